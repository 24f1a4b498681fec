package pushtest

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"time"
)

// A Notice is what reached a phone.
type Notice struct {
	Title string `json:"title"`
	Text  string `json:"text"`
	Tag   string `json:"tag"`
	Link  string `json:"link"`
	Ring  bool   `json:"ring"`
	Raw   string `json:"-"` // as it was decrypted
}

// A Service is a push service with browsers behind it. It takes a message only
// if it is signed and encrypted as it has to be; what is wrong otherwise is in
// Faults.
type Service struct {
	Server *httptest.Server
	Key    string // public key of the sender, in base64; set it before the first message

	mu       sync.Mutex
	browsers map[string]*Browser
	status   map[string]int
	slow     map[string]http.Handler
	got      map[string][]Notice
	headers  map[string]http.Header
	faults   []string
}

// NewService starts a service. Close its Server at the end.
func NewService() *Service {
	s := &Service{browsers: map[string]*Browser{}, status: map[string]int{}, slow: map[string]http.Handler{}, got: map[string][]Notice{}, headers: map[string]http.Header{}}
	s.Server = httptest.NewServer(s)
	return s
}

// Subscribe adds a browser and returns its endpoint.
func (s *Service) Subscribe(name string, b *Browser) (endpoint string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.browsers["/send/"+name] = b
	return s.Server.URL + "/send/" + name
}

// Answer makes the service answer with a status for one browser; 0: 201 again.
func (s *Service) Answer(name string, status int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.status["/send/"+name] = status
}

// Slow lets a handler of one's own answer for one browser.
func (s *Service) Slow(name string, h http.Handler) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.slow["/send/"+name] = h
}

// Got returns what has reached a browser since the last call.
func (s *Service) Got(name string) []Notice {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := s.got["/send/"+name]
	delete(s.got, "/send/"+name)
	return out
}

// Header returns the headers of the last message to a browser.
func (s *Service) Header(name string) http.Header {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.headers["/send/"+name]
}

// Faults are what was wrong with messages so far.
func (s *Service) Faults() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.faults...)
}

func (s *Service) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(io.LimitReader(r.Body, 1<<20))
	s.mu.Lock()
	slow, ok := s.slow[r.URL.Path]
	if ok {
		s.mu.Unlock()
		slow.ServeHTTP(w, r)
		return
	}
	defer s.mu.Unlock()
	s.headers[r.URL.Path] = r.Header
	browser, known := s.browsers[r.URL.Path]
	switch status := s.status[r.URL.Path]; {
	case err != nil || !known:
		w.WriteHeader(http.StatusNotFound)
		return
	case status != 0:
		w.WriteHeader(status)
		return
	}
	notice, err := s.open(browser, r, body)
	if err != nil {
		s.faults = append(s.faults, err.Error())
		http.Error(w, err.Error(), http.StatusForbidden)
		return
	}
	s.got[r.URL.Path] = append(s.got[r.URL.Path], notice)
	w.WriteHeader(http.StatusCreated)
}

func (s *Service) open(b *Browser, r *http.Request, body []byte) (Notice, error) {
	if _, err := Verify(r.Header.Get("Authorization"), s.Key, s.Server.URL, time.Now()); err != nil {
		return Notice{}, err
	}
	plain, err := b.Decrypt(body)
	if err != nil {
		return Notice{}, err
	}
	n := Notice{Raw: string(plain)}
	return n, json.Unmarshal(plain, &n)
}
