package app

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/certificate"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/health"
	"flitch/cmd/flitch/internal/signin"
	"flitch/cmd/flitch/internal/web"
	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/heard"
	"flitch/ingest/mqtt"
	"flitch/process/engine"
	"flitch/process/record"
	"flitch/store"
	"flitch/store/fleet"
)

// Options are what a caller may want beside the configuration.
type Options struct {
	Clock   Clock   // nil: the house's, which makes the best of the machine's
	Machine Machine // nil: the one flitch runs on
	Log     *slog.Logger
	Version string
	Heard   *heard.List   // what was heard before a start anew; nil: nothing
	Kept    []broker.Kept // what our broker kept before it

	Supervisor Supervisor // nil: there is none
}

// An App is the whole daemon, built and not yet running.
type App struct {
	cfg        *config.Config
	version    string
	clock      Clock
	house      *houseClock // clock, unless another was given
	log        *slog.Logger
	db         *store.DB
	faults     *health.Faults
	tidings    *tidings
	urgent     chan alerts.Message // to be sent past the database
	ballast    ballast
	unwritten  atomic.Bool // the engine cannot write
	noRoom     atomic.Bool // what is written is taken, and there is no room for the ballast
	pace       pace
	links      *api.Links
	metrics    *api.Metrics
	events     *api.Events
	engine     *engine.Engine
	intake     *ingest.Intake
	vitals     *vitalDesk
	sensors    *sensorDesk
	calls      chan ingest.Call // messages for devices, on their way
	outbox     *outbox.Outbox
	toHandOn   backup.Copy            // the newest copy, until it is on another machine; of the loop of backups
	summaries  sync.Map               // of closed batches, by store.BatchHead
	recoveries sync.Map               // parts that were reported to work since the start
	broker     *broker.Broker         // nil with an outside broker
	brokerSeen atomic.Bool            // the outside broker was reached since the start
	heardOnce  bool                   // there were readings before that
	heartbeat  *heartbeat             // nil without an address for it
	proof      *proof                 // beside the heartbeat
	fleet      *fleet.Sink            // nil: this site is alone
	supervisor Supervisor             // nil: there is none
	overheard  *heard.List            // what arrives by MQTT, used or not
	twins      twinDesk               // names that several devices connect under
	kept       []broker.Kept          // what our broker kept before a start anew
	again      chan struct{}          // a start anew was asked for
	diskTurned chan struct{}          // the disk fails, or is back
	tooMuch    atomic.Bool            // readings were heard meanwhile that there was no room for
	subscriber *mqtt.Subscriber       // at the outside broker; nil with our own
	signIn     *signin.Desk           // nil: nobody has to
	seals      *sealDesk              // seals and signs what comes in
	adding     sync.Mutex             // held while a probe is written to the configuration
	state      *alarmState            // nil when nothing is told by MQTT
	senderKey  []byte                 // of web push; nil when no channel needs one
	phones     sync.Mutex             // held while the list of phones changes
	root       *certificate.Authority // nil without an own one
	tls        *tls.Config            // nil: the page is served by plain http
	brokerTLS  *tls.Config            // nil: sensors speak plain MQTT
	page       *door
	plain      *door // hands out the root certificate by plain http; nil: nowhere
}

// New opens the database, takes the ports and builds every room. On an error
// nothing stays open.
func New(cfg *config.Config, o Options) (_ *App, err error) {
	a := &App{cfg: cfg, version: o.Version, log: o.Log, events: api.NewEvents(), tidings: newTidings(), urgent: make(chan alerts.Message, unstoredKept), ballast: ballast{path: cfg.Site.Database + ".ballast"}, calls: make(chan ingest.Call, callsKept), kept: o.Kept, supervisor: o.Supervisor, again: make(chan struct{}, 1), diskTurned: make(chan struct{}, 1)}
	if a.overheard = o.Heard; a.overheard == nil {
		a.overheard = &heard.List{}
	}
	defer func() {
		if err != nil {
			a.release()
		}
	}()
	if a.clock = o.Clock; a.clock == nil {
		a.clock = Wall{} // until the house's is built from what is stored: a fault of the file is told before
	}
	a.faults = &health.Faults{Changed: a.faultChanged}
	if a.db, err = store.OpenWith(cfg.Site.Database, store.Options{ObserveCommit: a.pace.committed, Unreadable: a.damaged}); err != nil {
		return nil, explain(err)
	}
	if err = a.buildClock(o.Clock, o.Machine); err != nil {
		return nil, err
	}
	a.metrics = api.NewMetrics(a.clock, o.Version, a.oldestDue)
	a.metrics.LeftOut = a.leftOut
	a.sayUpgraded()
	if err := a.ballast.keep(); err != nil {
		a.diskFault(err)
		a.noRoom.Store(true)
	}
	a.buildHeartbeat(o.Version)
	a.buildState()
	for _, build := range []func() error{a.buildSeals, a.buildLinks, a.buildSignIn, a.buildOutbox, a.buildEngine, a.buildIntake, a.buildTLS, a.buildBroker, a.buildServer, a.buildFleet} {
		if err := build(); err != nil {
			return nil, err
		}
	}
	return a, nil
}

func (a *App) buildEngine() (err error) {
	a.engine, err = engine.New(engine.Config{
		Store: engineStore{a.db, a.enqueue, a.seals.wake}, Clock: a.clock, Log: a.log, Observer: engineObserver{a},
		Places: places(a.cfg, a.clock.Now()), Catalogue: catalogue(a.cfg), Policy: policy(a.cfg), Changes: changes(a.cfg),
		Queued: a.outbox.Wake, Changed: a.changed, ReviewerDiffers: a.cfg.Site.ReviewerDiffers,
		Unstored: a.unstored, Held: func() int { return a.intake.Unstored() }, Blind: a.damaged,
	})
	return err
}

func (a *App) buildIntake() (err error) {
	a.vitals, a.sensors = a.buildVitals(), a.buildSensors()
	a.intake, err = ingest.New(intakeStore{a.db, a.metrics, a.heard}, a.clock, mappings(a.cfg.Probes), ingest.Options{
		Notify: func(int64) { a.engine.Wake() }, Fault: a.diskFault, Log: a.log, Observe: a.metrics, Vital: a.vitals.hear,
		Said: a.sensors.hear, Call: a.call, Heard: a.engine.Heard, Gap: a.gapOver, Witness: a.witness,
	})
	return err
}

func (a *App) buildServer() (err error) {
	site := a.site()
	reader := &reader{app: a, site: site, chart: chartDesk{db: a.db, open: a.engine.IsOpen}}
	papers := paperDesk{reader, signedCommander{a}}
	pageDeps := web.Deps{Site: site, Reader: reader, Commander: signedCommander{a}, Clock: a.clock, NewID: rand.Text, Log: a.log,
		Cards: reader.cards, Papers: papers, Ringing: a.ringing(), AddProbe: a.addProbe, SignIn: a.signIn, Batches: bench{a, reader}}
	deps := api.Deps{
		Papers: papers, Reader: reader, Commander: signedCommander{a}, Batches: pageDeps.Batches, Health: a.health, Links: a.links, Events: a.events,
		Metrics: a.metrics.Handler(), Page: web.New(pageDeps), Phones: phonebook{a}, AddProbe: a.addProbe, Import: importer{a}, SignIn: a.signIn, Clock: a.clock, Wall: Wall{}, NewID: rand.Text,
		Hosts: hosts(a.cfg), Log: a.log, Zone: a.cfg.Site.Zone,
	}
	if a.page, err = a.listen("the page", a.cfg.Page.Listen, api.New(deps)); err != nil {
		return err
	}
	a.page.server.TLSConfig = a.tls
	a.page.server.RegisterOnShutdown(a.events.Close) // open streams would hold up the stop
	if a.root == nil || a.cfg.Page.Plain == "" {
		return nil
	}
	a.plain, err = a.listen("the plain page", a.cfg.Page.Plain, api.NewGuarded(deps, web.NewPlain(pageDeps)))
	return err
}

// site is how people here want numbers and times shown.
func (a *App) site() record.Site {
	return record.Site{Name: a.cfg.Site.Name, Zone: a.cfg.Site.Zone, Fahrenheit: a.cfg.Site.Units == "F", Currency: a.cfg.Site.Currency}
}

// Address returns where the page is, as http://host:port, or https://.
func (a *App) Address() string {
	scheme := "http://"
	if a.tls != nil {
		scheme = "https://"
	}
	return scheme + a.page.listener.Addr().String()
}

// BrokerAddress returns where sensors connect, host:port; empty with an outside
// broker.
func (a *App) BrokerAddress() string {
	if a.broker == nil {
		return ""
	}
	return a.broker.Addr()
}

// release closes what New has opened, for an App that never ran.
func (a *App) release() {
	a.page.close()
	a.plain.close()
	if a.broker != nil {
		a.broker.Close(context.Background())
	}
	if a.db != nil {
		if err := a.db.Close(); err != nil {
			a.log.Error("database not closed", "err", err)
		}
	}
}

// explain puts what a person has to do into errors of the store.
func explain(err error) error {
	if errors.Is(err, store.ErrLocked) {
		return fmt.Errorf("another flitch runs on this database: %w", err)
	}
	return err
}

// sayUpgraded says where the way back is after an upgrade, or that there is none.
func (a *App) sayUpgraded() {
	switch up := a.db.Upgraded(); {
	case up == nil:
	case up.Without != nil:
		a.log.Warn("the database was brought to a later schema without a copy of before: only a backup leads back to the older flitch", "from", up.From, "to", up.To, "why", up.Without)
	default:
		a.log.Info("the database was brought to a later schema, what it was is kept", "from", up.From, "to", up.To, "copy", up.Copy)
	}
}
