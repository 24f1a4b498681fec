package house

import (
	"go/ast"
	"slices"
	"strings"
	"testing"
)

// An input is a place where bytes from outside come in, the exported functions that read
// them there, and the fuzz targets that send them anything: by name, of the same folder, or
// as folder:name. A list of suites stands for what is sent over a socket.
type input struct {
	what    string
	folder  string
	readers []string
	targets []string
}

const internal = "cmd/flitch/internal/"

var inputs = []input{
	{"payloads of sensors", "ingest/decode", []string{"Open", "Find"}, []string{"FuzzRead", "FuzzShape", "FuzzLocalTime", "FuzzFind"}},
	{"pointers, units and formats of payloads", "ingest/decode", []string{"ParseTimeFormat", "ParseUnit"}, []string{"FuzzPointer", internal + "config:FuzzLoad"}},
	{"numbers of sensors", "ingest/sensor", nil, []string{"FuzzConversions", "FuzzThreePoints"}},
	{"topics and payloads of Homie", "ingest/decode/homie", []string{"ParseProperty"}, []string{"FuzzController"}},
	{"topics and payloads of Sparkplug", "ingest/decode/sparkplug", []string{"Read", "ParseSource"}, []string{"FuzzHost"}},
	{"packets of MQTT, over a connection", "ingest/broker", nil, []string{"FuzzFrames", "FuzzPackets", "TestMalformedPackets"}},
	{"configuration", internal + "config", []string{"Load", "LoadPublic"}, []string{"FuzzLoad"}},
	{"probes that the page adds", internal + "config", nil, []string{"FuzzAddedProbe"}},
	{"scenarios", "process/scenario", []string{"Parse"}, []string{"FuzzParse"}},
	{"plans", "process/plans", []string{"Parse"}, []string{"FuzzParse"}},
	{"CSV files of loggers", internal + "readout", []string{"LookAt"}, []string{"FuzzReader"}},
	{"CSV files to assess", internal + "assess", nil, []string{"FuzzRun"}},
	{"JSON bodies of commands", internal + "api", nil, []string{"FuzzCommandBody"}},
	{"other JSON bodies: imports, phones and their subscriptions, sign-ins", internal + "api", nil, []string{"FuzzBodies"}},
	{"queries of charts, records, photos", internal + "api", nil, []string{"FuzzQueries"}},
	{"links that answer", internal + "api", nil, []string{"FuzzLink"}},
	{"requests of HTTP, over a connection", internal + "api", nil, []string{"TestOddRequestsAreRefused", "TestWhatDoesNotEndIsEnded"}},
	{"forms of the page, and what corrective actions are filled in with", internal + "web", nil, []string{"FuzzForms", "FuzzBeginForm"}},
	{"cookies, tokens, guest links", internal + "signin", nil, []string{"FuzzTokens"}},
	{"the file of passwords", internal + "signin", nil, []string{"FuzzLines"}},
	{"queries of calculators, and their sheets", "cmd/flitch", nil, []string{"FuzzReckon", "FuzzSheet"}},
	{"what is typed to commands: pieces, doses, times", "cmd/flitch", nil, []string{"FuzzPiece", "FuzzDoseWeight", "FuzzDosedWords", "FuzzMoments"}},
	{"quantities", internal + "quantity", nil, []string{"FuzzQuantities"}},
	{"numbers", internal + "plain", nil, []string{"FuzzNumber"}},
	{"photos: JPEG, PNG, WebP", internal + "photo", []string{"Keep"}, []string{"FuzzKeep"}},
	{"proofs", "process/evidence", []string{"Read"}, []string{"FuzzRead", internal + "verify:FuzzBegin"}},
	{"lines of a journal, seals, fingerprints", "process/evidence", []string{"ParseSeal", "ParseFingerprint", "ParseRemoval"}, []string{"FuzzTexts"}},
	{"databases given to verify and restore", "store", []string{"Examine", "Foreign", "Open", "OpenWith", "OpenReadOnly", "OpenBeside"}, []string{"FuzzExamine"}},
	{"blocks of readings at rest", "store/block", []string{"Decode"}, []string{"FuzzDecode"}},
	{"addresses of PostgreSQL, and texts that it gives back", "store/fleet", []string{"ParseAddress"}, []string{"FuzzAddress", "FuzzExact"}},
	{"folders of copies", internal + "backup", []string{"Examine"}, []string{"FuzzNames", "TestAHostileCopyStaysInItsFolder", "store:FuzzExamine"}},
	{"files of certificates and keys", internal + "certificate", []string{"OpenAuthority"}, []string{"FuzzFiles"}},
	{"addresses of phones for web push", "alerts/push", nil, []string{"FuzzNewBrowser"}},
	{"answers of push services, phones, telephones", "alerts/push", nil, []string{"FuzzAnswer", "TestAnAnswerWithoutEndTakesNoMemory"}},
}

// readerWords are how the name of a function begins that reads what may be anybody's.
var readerWords = []string{"Parse", "Read", "Load", "Find", "Open", "Keep", "Look", "Decode", "Examine", "Foreign"}

// Everything from outside has a fuzz target, what is named is there, and every fuzz target
// of the repository is named: the table is what somebody reads who asks what was tried.
func TestEveryInputIsFuzzed(t *testing.T) {
	if len(inputs) < 30 {
		t.Fatalf("only %d inputs", len(inputs))
	}
	tests, readers := map[string]bool{}, map[string]bool{}
	for _, s := range sources(t) {
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			switch {
			case !ok || f.Recv != nil:
			case s.test:
				tests[s.folder+":"+f.Name.Name] = true
			case f.Name.IsExported() && takesText(f) && begins(f.Name.Name):
				readers[s.folder+":"+f.Name.Name] = true
			}
		}
	}
	named, folders := map[string]bool{}, map[string]bool{}
	for _, in := range inputs {
		folders[in.folder] = true
		if len(in.targets) == 0 {
			t.Errorf("%s: no fuzz target", in.what)
		}
		for _, target := range in.targets {
			if !strings.Contains(target, ":") {
				target = in.folder + ":" + target
			}
			named[target] = true
			if !tests[target] {
				t.Errorf("%s: there is no %s", in.what, target)
			}
		}
		for _, r := range in.readers {
			if !readers[in.folder+":"+r] {
				t.Errorf("%s: there is no reader %s in %s", in.what, r, in.folder)
			}
			delete(readers, in.folder+":"+r)
		}
	}
	for r := range readers {
		if folder, _, _ := strings.Cut(r, ":"); folders[folder] {
			t.Errorf("%s reads what may be anybody's and is in no row of the table of inputs", r)
		}
	}
	fuzzed := 0
	for name := range tests {
		if _, f, _ := strings.Cut(name, ":"); strings.HasPrefix(f, "Fuzz") {
			fuzzed++
			if !named[name] {
				t.Errorf("%s is in no row of the table of inputs", name)
			}
		}
	}
	if fuzzed < 30 {
		t.Errorf("only %d fuzz targets", fuzzed)
	}
	t.Logf("%d inputs, %d fuzz targets", len(inputs), fuzzed)
}

// begins reports whether a name begins with one of readerWords.
func begins(name string) bool {
	return slices.ContainsFunc(readerWords, func(w string) bool {
		rest, ok := strings.CutPrefix(name, w)
		return ok && (rest == "" || rest[0] >= 'A' && rest[0] <= 'Z')
	})
}

// takesText reports whether a function is given text, bytes or a stream.
func takesText(f *ast.FuncDecl) bool {
	for _, p := range f.Type.Params.List {
		switch kind := p.Type.(type) {
		case *ast.Ident:
			if kind.Name == "string" {
				return true
			}
		case *ast.ArrayType:
			return true
		case *ast.SelectorExpr:
			if kind.Sel.Name == "Reader" {
				return true
			}
		}
	}
	return false
}
