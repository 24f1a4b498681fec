package app

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts/push/pushtest"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/api/apitest"
	"flitch/cmd/flitch/internal/config"
	"flitch/process"
)

// A caller asks a running daemon and holds every answer against the description that
// the daemon itself serves.
type caller struct {
	*shop
	book  *apitest.Book
	asked map[string]map[int]bool // pattern, then the statuses that came
	shown map[string]bool         // examples of commands that were sent
	token string                  // of whoever asks; empty: nobody has signed in
}

func (s *shop) caller(description string) *caller {
	s.t.Helper()
	book, err := apitest.Read([]byte(description))
	if err != nil {
		s.t.Fatal(err)
	}
	return &caller{shop: s, book: book, asked: map[string]map[int]bool{}, shown: map[string]bool{}}
}

// ask sends a request of a pattern and returns what was answered.
func (c *caller) ask(pattern, path string, body []byte) (status int, text string) {
	c.t.Helper()
	method, _, _ := strings.Cut(pattern, " ")
	r, err := http.NewRequest(method, c.app.Address()+path, bytes.NewReader(body))
	if err != nil {
		c.t.Fatal(err)
	}
	if c.token != "" {
		r.Header.Set("Authorization", "Bearer "+c.token)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer answer.Body.Close()
	got, err := io.ReadAll(answer.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	if err := c.book.Answer(r, answer.StatusCode, answer.Header, got); err != nil {
		c.t.Errorf("%s: %v", path, err)
	}
	if c.asked[pattern] == nil {
		c.asked[pattern] = map[int]bool{}
	}
	c.asked[pattern][answer.StatusCode] = true
	return answer.StatusCode, string(got)
}

// want is ask for something that is answered with a status.
func (c *caller) want(status int, pattern, path string, body []byte) {
	c.t.Helper()
	if got, text := c.ask(pattern, path, body); got != status {
		c.t.Errorf("%s: %d %s, want %d", path, got, text, status)
	}
	c.settle()
}

// looks asks for everything there is to read of a batch and of the house.
func (c *caller) looks(batch string) {
	c.t.Helper()
	for _, path := range []string{"/api/places", "/api/glance", "/api/batches", "/api/alarms", "/api/probes", "/api/heard", "/api/phones", "/api/openapi.yaml", "/api/reckon", "/healthz"} {
		c.want(http.StatusOK, "GET "+path, path, nil)
	}
	c.want(http.StatusOK, "GET /api/reckon/{name}", "/api/reckon/cure-time?thickness=1.5in&temp=4C", nil)
	c.want(http.StatusNotFound, "GET /api/reckon/{name}", "/api/reckon/spoon", nil)
	for _, what := range []string{"/api/batches/%s", "/api/batches/%s/like", "/batches/%s/chart.json?width=344", "/batches/%s/record.json"} {
		pattern := "GET " + fmt.Sprintf(strings.TrimSuffix(what, "?width=344"), "{id}")
		if batch != "" {
			c.want(http.StatusOK, pattern, fmt.Sprintf(what, batch), nil)
		}
		c.want(http.StatusNotFound, pattern, fmt.Sprintf(what, "OL-99-99"), nil)
	}
}

// example sends what openapi.yaml shows, after it was held against its own schema.
func (c *caller) example(pattern, name string) {
	c.t.Helper()
	all, err := c.book.Examples(pattern)
	if err != nil {
		c.t.Fatal(err)
	}
	if err := c.book.Body(pattern, all[name]); err != nil {
		c.t.Errorf("example %q of %s: %v", name, pattern, err)
	}
	if pattern == say {
		c.shown[name] = true
	}
	c.want(http.StatusOK, pattern, strings.TrimPrefix(pattern, "POST "), all[name])
}

// send says something that is no example.
func (c *caller) send(said map[string]any) {
	c.t.Helper()
	said["batch"], said["by"] = "OL-31-04", "T.V."
	text, err := json.Marshal(said)
	if err != nil {
		c.t.Fatal(err)
	}
	c.want(http.StatusOK, say, "/api/commands", text)
}

const say = "POST /api/commands"

// The life of a batch over the JSON API, in the house that flitch init writes: all
// examples of openapi.yaml are sent and taken, everything there is to read is read at
// each turn of it, every kind of body is refused once, and every answer is as it is
// described.
func TestTheAPIIsAsItIsDescribed(t *testing.T) {
	s := newShop(t)
	s.fromFile()
	service := pushtest.NewService()
	t.Cleanup(service.Server.Close)
	s.cfg.Page.Link = "https://localhost:8411"
	s.cfg.Channels = append(s.cfg.Channels, pushChannelFor(service, 5*time.Second))
	s.cfg.Persons = []config.Person{{Name: "Tamsin Vale", Initials: "T.V.", Channels: []string{"push"}}}
	s.open()
	service.Key = s.app.ringing().SenderKey
	c := s.caller(s.get("/api/openapi.yaml"))
	c.looks("")
	c.phones(service)
	c.life()
	c.want(http.StatusOK, "POST /api/phones/remove", "/api/phones/remove", []byte(`{"phone":1,"by":"T.V."}`))
	c.refused()
	c.example("POST /api/import", "two rows")
	c.example("POST /api/import/done", "file")
	c.streams()
	c.example("POST /api/probes", "air")
	if err := <-s.done; !errors.Is(err, ErrAgain) {
		t.Fatalf("ended with %v", err)
	}
	s.out.Close()
	s.out, s.stop = nil, nil
	c.complete()
}

// life is one batch from its start to its end.
func (c *caller) life() {
	c.t.Helper()
	bottle := func(v float64) func(time.Duration) {
		return func(time.Duration) {
			c.say("larder/alder/bottle", fmt.Sprintf(`{"time":%q,"temperature":%g}`, c.clock.Now().Format(time.RFC3339Nano), v))
			c.say("larder/old-kettle", `{"grate":21,"core1":4,"spare":5}`)
		}
	}
	c.example(say, "new")
	c.every(minute, minute, 6*minute, bottle(3.8))
	for _, name := range []string{"dosed", "turned", "weighed", "reading", "note", "duty", "checked"} {
		c.example(say, name)
	}
	c.looks("OL-31-04")
	c.every(minute, 7*minute, 40*minute, bottle(11)) // too warm: a ring
	for _, name := range []string{"acknowledge", "judge", "shelve", "out-of-service"} {
		c.example(say, name)
	}
	c.looks("OL-31-04")
	c.every(minute, 41*minute, 44*minute, bottle(4)) // and now in °F
	c.every(minute, 45*minute, 55*minute, bottle(39.2))
	c.looks("OL-31-04")
	for _, name := range []string{"unit", "stage", "counted"} {
		c.example(say, name)
	}
	for _, stage := range []process.StageName{process.StageDry, process.StageSmoke} {
		c.send(map[string]any{"kind": "stage", "stage": stage, "text": "a story"})
	}
	c.every(minute, 56*minute, 60*minute, bottle(39.2))
	c.looks("OL-31-04")
	c.send(map[string]any{"kind": "note", "id": "one-of-mine", "text": "of another batch"})
	for _, name := range []string{"struck", "corrective-action", "disposition", "tasted", "cost"} {
		c.example(say, name)
	}
	c.want(http.StatusOK, "GET /api/batches/{id}/ready-text", "/api/batches/OL-31-04/ready-text?about=C2", nil)
	c.want(http.StatusOK, "POST /api/batches/{id}/photos", "/api/batches/OL-31-04/photos?by=T.V.&text=slice", smallPicture(c.t))
	c.send(map[string]any{"kind": "disposition", "disposition": "discard", "text": "a story"})
	c.example(say, "close")
	c.example(say, "reviewed")
	c.looks("OL-31-04")
}

// smallPicture is a photo as a phone sends one.
func smallPicture(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 6))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// phones lets a browser in and gives it another address.
func (c *caller) phones(service *pushtest.Service) {
	c.t.Helper()
	send := func(pattern string, body any) {
		c.t.Helper()
		text, err := json.Marshal(body)
		if err != nil {
			c.t.Fatal(err)
		}
		if err := c.book.Body(pattern, text); err != nil {
			c.t.Errorf("%s: %v", pattern, err)
		}
		c.want(http.StatusOK, pattern, strings.TrimPrefix(pattern, "POST "), text)
	}
	send("POST /api/phones", asks(service, "grey", pushtest.NewBrowser()))
	send("POST /api/phones/renewed", api.Renewal{Old: service.Server.URL + "/send/grey", Subscription: asks(service, "grey-2", pushtest.NewBrowser()).Subscription})
}

// refused sends to each place what cannot be read, and what can be and does not do.
func (c *caller) refused() {
	c.t.Helper()
	for pattern, body := range map[string]string{
		say: `{"kind":"turned","by":"T.V."}`, "POST /api/probes": `{"name":"x","place":"nowhere","measures":"core","topic":"a","by":"T.V."}`,
		"POST /api/phones": `{"channel":"nobody","by":"T.V.","name":"x","subscription":{"endpoint":"","expirationTime":null,"keys":{"p256dh":"","auth":""}}}`,
		"POST /api/import": `{"probe":"nobody","by":"T.V.","rows":[]}`, "POST /api/import/done": `{"probe":"nobody","by":"T.V.","file":"x","sha256":"","rows":0,"from":"2031-05-05T06:00:00Z","to":"2031-05-05T06:00:00Z"}`,
		"POST /api/phones/remove": `{"phone":99,"by":"T.V."}`, "POST /api/phones/renewed": `{"old":"https://push.example/x","subscription":{"endpoint":"https://push.example/y","expirationTime":null,"keys":{"p256dh":"","auth":""}}}`,
		"POST /api/sign-in": `{"by":"T.V.","password":"x"}`,
	} {
		path := strings.TrimPrefix(pattern, "POST ")
		if status, text := c.ask(pattern, path, []byte(body)); status != http.StatusUnprocessableEntity && status != http.StatusNotFound {
			c.t.Errorf("%s %s: %d %s, want a refusal", pattern, body, status, text)
		}
		c.want(http.StatusBadRequest, pattern, path, []byte(`{"nonsense":`))
		c.want(http.StatusRequestEntityTooLarge, pattern, path, []byte(`{"by":"`+strings.Repeat("x", 70<<10)+`"}`))
	}
	c.want(http.StatusUnprocessableEntity, "POST /api/batches/{id}/photos", "/api/batches/OL-31-04/photos?by=T.V.", []byte("no picture"))
	c.want(http.StatusNotFound, "GET /api/nothing", "/api/nothing", nil)
}

// streams reads the first event of the stream.
func (c *caller) streams() {
	c.t.Helper()
	r, err := http.NewRequestWithContext(c.patience(), http.MethodGet, c.app.Address()+"/api/events", nil)
	if err != nil {
		c.t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		c.t.Fatal(err)
	}
	defer answer.Body.Close()
	first := make([]byte, 512)
	n, err := answer.Body.Read(first)
	if err != nil || !strings.HasPrefix(string(first[:n]), "event: beat\ndata: {\"at\":") {
		c.t.Errorf("the stream begins with %q, %v", first[:n], err)
	}
	if err := c.book.Answer(r, answer.StatusCode, answer.Header, first[:n]); err != nil {
		c.t.Error(err)
	}
	c.asked["GET /api/events"] = map[int]bool{http.StatusOK: true}
}

// complete looks whether everything that is described was asked, and taken: but for the
// sign-in, which this house does not have.
func (c *caller) complete() {
	c.t.Helper()
	for _, pattern := range c.book.Routes() {
		statuses := c.asked[pattern]
		if !statuses[http.StatusOK] && pattern != "POST /api/sign-in" {
			c.t.Errorf("%s was never answered with what it is for: ask it in this test", pattern)
		}
		refused := slices.ContainsFunc([]int{http.StatusNotFound, http.StatusUnprocessableEntity}, func(s int) bool { return statuses[s] })
		if strings.HasPrefix(pattern, "POST ") && !refused {
			c.t.Errorf("%s was never refused: add a body that does not do to refused()", pattern)
		}
	}
	examples, err := c.book.Examples(say)
	if err != nil || len(examples) == 0 {
		c.t.Errorf("%d examples: %v", len(examples), err)
	}
	for name := range examples {
		if !c.shown[name] {
			c.t.Errorf("the example %q of a command was never sent", name)
		}
	}
}

// Who has not signed in is told so, but where the description says that it is for
// everybody; a curer gets a token and is let in.
func TestTheAPIIsOpenToWhomItSays(t *testing.T) {
	s, _ := signedShop(t)
	c := s.caller(s.get("/api/openapi.yaml"))
	for _, pattern := range c.book.Routes() {
		path := strings.NewReplacer("{id}", "PS-02", "{name}", "wet-bulb").Replace(pattern[strings.Index(pattern, "/"):])
		if strings.HasPrefix(path, "/api/phones") || path == "/api/sign-in" {
			continue // no phones here, and a wrong sign-in is a 401 of its own
		}
		if status, text := c.ask(pattern, path, nil); (status == http.StatusUnauthorized) == c.book.Open(pattern) {
			t.Errorf("%s without a sign-in: %d %s; in openapi.yaml it is open: %v", pattern, status, text, c.book.Open(pattern))
		}
	}
	c.want(http.StatusUnauthorized, "POST /api/sign-in", "/api/sign-in", []byte(`{"by":"T.V.","password":"wrong wrong"}`))
	status, text := c.ask("POST /api/sign-in", "/api/sign-in", []byte(`{"by":"T.V.","password":"oak smoke at night"}`))
	var in struct{ Token string }
	if err := json.Unmarshal([]byte(text), &in); err != nil || status != http.StatusOK {
		t.Fatalf("sign-in: %d %s", status, text)
	}
	c.token = in.Token
	c.want(http.StatusOK, "GET /api/glance", "/api/glance", nil)
	c.want(http.StatusOK, say, "/api/commands", []byte(`{"kind":"turned","batch":"PS-02","by":"T.V."}`))
	c.want(http.StatusUnprocessableEntity, say, "/api/commands", []byte(`{"kind":"turned","batch":"PS-02","by":"M.O."}`))
}
