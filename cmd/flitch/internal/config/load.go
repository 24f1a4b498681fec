package config

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// Load reads and checks the file at path. Secrets are read from their files and
// from the environment. The error is *Problems when the file could be opened but
// not used.
func Load(path string) (*Config, error) { return load(path, theVault()) }

// LoadPublic is Load without opening secrets: every Secret of the result holds a
// placeholder. It is for commands run by a person who may read the
// configuration but not the daemon's passwords.
func LoadPublic(path string) (*Config, error) { return load(path, sealedVault()) }

func load(path string, vault vault) (*Config, error) {
	data, err := plainFile(path)
	if err != nil {
		return nil, err
	}
	added, err := plainFile(ProbeFile(path))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	return parse(path, data, added, vault)
}

func plainFile(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("reading the configuration: %w", err)
	}
	if !info.Mode().IsRegular() || info.Size() > maxFile {
		return nil, fmt.Errorf("reading the configuration: %s is not a plain file of at most %d KiB", path, maxFile>>10)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("reading the configuration: %w", err)
	}
	return data, nil
}

// parse checks the text of a configuration file, together with the probes that were
// added by the page.
func parse(path string, data, added []byte, vault vault) (*Config, error) {
	doc := &document{path: path, vault: vault}
	more := &document{path: ProbeFile(path), called: ProbeFile(path), vault: vault}
	config := &Config{Path: path}
	root, ok := doc.open(data)
	beside, also := more.open(added)
	if ok && also {
		config.read(root, beside)
	}
	problems, doubts := append(doc.problems, more.problems...), append(doc.doubts, more.doubts...)
	if len(problems) > 0 {
		return nil, &Problems{Path: path, List: inOrder(append(problems, doubts...))}
	}
	if len(doubts) > 0 {
		config.Doubts = &Problems{Path: path, List: inOrder(doubts)}
	}
	return config, nil
}

// read takes the tables one by one. Places come before probes, which name them.
func (c *Config) read(root, beside *table) {
	site := root.table("site")
	c.Site = readSite(site)
	page := root.table("page")
	c.Page = readPage(page)
	broker := root.table("broker")
	c.Broker = readBroker(broker)
	if c.Page.Plain != "" && (sameDoor(c.Page.Plain, c.Page.Listen) || c.Broker.Mode == Embedded && sameDoor(c.Page.Plain, c.Broker.Listen)) {
		page.problem("plain", c.Page.Plain, c.Page.Plain+" is taken by page.listen or broker.listen", `plain = "0.0.0.0:8410"`)
	}
	if c.Broker.Mode == Embedded && sameDoor(c.Broker.Listen, c.Page.Listen) {
		broker.problem("listen", c.Broker.Listen, c.Broker.Listen+" is taken by page.listen", `listen = "127.0.0.1:1883"`)
	}
	c.Places = readPlaces(root.tables("place"))
	probes := append(root.tables("probe"), beside.tables("probe")...)
	c.Probes = readProbes(probes, c.Places)
	checkRights(c.Broker, probes, c.Probes)
	channels := root.tables("channel")
	c.Channels = readChannels(channels)
	doubtBackups(channels, c.Channels)
	checkPush(channels, c.Page)
	c.Heartbeat = readHeartbeat(root.table("heartbeat"))
	c.TestRing = readTestRing(root.table("test_ring"))
	c.TurnsAt = readTurns(root.table("turns"))
	c.Announce = readAnnounce(root.table("announce"), c.Probes)
	c.Backup = readBackup(root.table("backup"), c.Site.Database)
	c.Store = readStore(root.table("store"))
	c.Fleet = readFleet(root.table("fleet"), c.Site.Name)
	c.Persons = readPersons(root.tables("person"), c.Channels)
	checkSignIn(page, c.Page, c.Persons)
	reviewed(site, &c.Site, c.Persons)
	if len(c.Probes) == 0 {
		root.problem("probe", "", "none: nothing would be watched", "[[probe]] with its keys, as in the file that flitch init writes")
	}
	root.finish()
	beside.finish()
}
