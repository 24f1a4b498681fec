package push

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/alerts/push/pushtest"
)

// pocket is one phone at a stand-in for a push service.
func pocket(t *testing.T) (*pushtest.Service, Settings) {
	t.Helper()
	service, browser := pushtest.NewService(), pushtest.NewBrowser()
	t.Cleanup(service.Server.Close)
	key, err := NewSenderKey()
	if err != nil {
		t.Fatal(err)
	}
	if service.Key, err = SenderPublic(key); err != nil {
		t.Fatal(err)
	}
	to, err := NewBrowser(service.Subscribe("tok3n-of-the-phone", browser), browser.P256dh(), browser.Auth(), service.Server.URL)
	if err != nil {
		t.Fatal(err)
	}
	return service, Settings{Name: "tv-push/1", Kind: "push", Server: service.Server.URL, Browser: &to, SenderKey: key,
		Contact: "tv@plover-shed.example", Deadline: 2 * time.Second}
}

// The example of RFC 8291, appendix A, opens with the browser of these tests: its
// sum would not be right if a key or a step were not.
func TestTheBrowserOfTheseTestsReadsTheExampleOfTheRFC(t *testing.T) {
	raw := func(text string) []byte {
		out, err := pushtest.Raw.DecodeString(text)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	browser := pushtest.NewBrowser()
	browser.Secret = raw("BTBZMqHH6r4Tts7J_aSIgg")
	private, err := browser.Key.Curve().NewPrivateKey(raw("q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"))
	if err != nil {
		t.Fatal(err)
	}
	browser.Key = private
	if browser.P256dh() != "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4" {
		t.Errorf("the browser's public key is %s", browser.P256dh())
	}
	body := raw("DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A" +
		"_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN")
	plain, err := browser.Decrypt(body)
	if err != nil || string(plain) != "When I grow up, I want to be a watermelon" {
		t.Errorf("read %q, %v", plain, err)
	}
	body[len(body)-1] ^= 1
	if _, err := browser.Decrypt(body); err == nil {
		t.Error("a message that was tampered with was read")
	}
}

// The example of RFC 8292, section 2.4, is signed by the key in it; another key,
// service or time is refused by the service of these tests.
func TestTheServiceOfTheseTestsReadsTheExampleOfTheRFC(t *testing.T) {
	const key = "BA1Hxzyi1RUM1b5wjxsn7nGxAszw2u61m164i3MrAIxHF6YK5h4SDYic-dRuU_RCPCfA5aq9ojSwk5Y2EmClBPs"
	const header = "vapid t=eyJ0eXAiOiJKV1QiLCJhbGciOiJFUzI1NiJ9.eyJhdWQiOiJodHRwczovL3B1c2guZXhhbXBsZS5uZXQiLCJleHAiOjE0NTM1MjM3NjgsInN1YiI6Im1haWx0bzpwdXNoQGV4YW1wbGUuY29tIn0" +
		".i3CYb7t4xfxCDquptFOepC9GAu_HLGkMlMuCGSK2rpiUfnK9ojFwDXb1JrErtmysazNjjvW2L9OkSSHzvoD1oA, k=" + key
	at := time.Unix(1453523768, 0).Add(-12 * time.Hour)
	claims, err := pushtest.Verify(header, key, "https://push.example.net", at)
	if err != nil || claims.Subject != "mailto:push@example.com" {
		t.Errorf("claims %+v, %v", claims, err)
	}
	for name, err := range map[string]error{
		"another key":     second(pushtest.Verify(header, key[:80]+"A"+key[81:], "https://push.example.net", at)),
		"another service": second(pushtest.Verify(header, key, "https://push.example.org", at)),
		"too late":        second(pushtest.Verify(header, key, "https://push.example.net", at.Add(13*time.Hour))),
		"too early":       second(pushtest.Verify(header, key, "https://push.example.net", at.Add(-13*time.Hour))),
		"another text":    second(pushtest.Verify(strings.Replace(header, "eyJhdWQi", "eyJhdWQj", 1), key, "https://push.example.net", at)),
	} {
		if err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}

func second(_ pushtest.Claims, err error) error { return err }

func TestWebPushArrives(t *testing.T) {
	service, s := pocket(t)
	m := fire()
	m.Body += "\nAlarm 17 (H3) https://smokehouse.lan:8411/alarms/17\nI am on it: https://smokehouse.lan:8411/a/abc-DEF"
	receipt, err := channel(t, s).Send(context.Background(), m)
	if err != nil {
		t.Fatal(err)
	}
	got := service.Got("tok3n-of-the-phone")
	if len(got) != 1 {
		t.Fatalf("the phone has %+v; faults %q", got, service.Faults())
	}
	want := pushtest.Notice{Title: m.Subject, Text: "Chamber 21.0 °C below its set point <&>.\nDo first: Relight.", Tag: "alarm-17",
		Link: "https://smokehouse.lan:8411/a/abc-DEF", Ring: true, Raw: got[0].Raw}
	if got[0] != want {
		t.Errorf("the phone has %+v, want %+v", got[0], want)
	}
	h := service.Header("tok3n-of-the-phone")
	if h.Get("Urgency") != "high" || h.Get("Ttl") != "1800" || h.Get("Content-Encoding") != "aes128gcm" {
		t.Errorf("headers %v", h)
	}
	if receipt != "answered 201 Created" {
		t.Errorf("receipt %q", receipt)
	}
	claims, err := pushtest.Verify(h.Get("Authorization"), service.Key, service.Server.URL, time.Now())
	if err != nil || claims.Subject != "mailto:tv@plover-shed.example" {
		t.Errorf("claims %+v, %v", claims, err)
	}
}

// What can wait is no ring on the phone and may lie longer at the service.
func TestWebPushOfWhatCanWait(t *testing.T) {
	service, s := pocket(t)
	m := fire()
	m.Level, m.Alarm = alerts.Tell, 0
	if _, err := channel(t, s).Send(context.Background(), m); err != nil {
		t.Fatal(err)
	}
	got, h := service.Got("tok3n-of-the-phone"), service.Header("tok3n-of-the-phone")
	if len(got) != 1 || got[0].Ring || got[0].Tag != "message-42" || h.Get("Urgency") != "normal" || h.Get("Ttl") != "43200" {
		t.Errorf("the phone has %+v with %v", got, h)
	}
}

// However long and odd the text, it fits into one message and the link is whole.
func TestWebPushFits(t *testing.T) {
	service, s := pocket(t)
	link := "https://smokehouse.lan:8411/a/" + strings.Repeat("x", 120)
	for _, text := range []string{strings.Repeat("ö", 9000), strings.Repeat("\x01", 9000), strings.Repeat("🥓", 9000), strings.Repeat("\"\\\n", 9000)} {
		m := fire()
		m.Subject, m.Body = text, text+"\nI am on it: "+link
		if _, err := channel(t, s).Send(context.Background(), m); err != nil {
			t.Errorf("%.8q: %v", text, err)
		}
		if got := service.Got("tok3n-of-the-phone"); len(got) != 1 || got[0].Link != link {
			t.Errorf("%.8q: the phone has %.300v", text, got)
		}
	}
}

func TestWebPushAnswers(t *testing.T) {
	for _, c := range []struct {
		status      int
		retry, gone bool
		after       time.Duration
		says        string
	}{
		{status: 200, says: "200"}, // no push service answers so: something in between did
		{status: 307, says: "307"}, {status: 400, says: "400"}, {status: 413, says: "413"},
		{status: 403, says: "is the clock right"},
		{status: 404, gone: true, says: "404"}, {status: 410, gone: true, says: "410"},
		{status: 429, retry: true, after: 90 * time.Second, says: "429"},
		{status: 500, retry: true, after: 90 * time.Second, says: "500"}, {status: 503, retry: true, after: 90 * time.Second, says: "503"},
	} {
		t.Run(http.StatusText(c.status), func(t *testing.T) {
			_, s := pocket(t)
			url := serve(t, func(w http.ResponseWriter, r *http.Request) {
				if c.after > 0 {
					w.Header().Set("Retry-After", "90")
				}
				w.WriteHeader(c.status)
				_, _ = w.Write([]byte("no " + r.URL.Path))
			})
			s.Browser.Endpoint, s.Server = url+"/send/tok3n-of-the-phone", url
			refusal := failure(t, channel(t, s))
			if refusal.Retry != c.retry || refusal.Gone != c.gone || refusal.After != c.after || !strings.Contains(refusal.Text, c.says) {
				t.Errorf("refusal %+v", refusal)
			}
			if strings.Contains(refusal.Text, "tok3n") {
				t.Errorf("the endpoint is in %q", refusal.Text)
			}
		})
	}
}

func TestWebPushKeepsTheDeadline(t *testing.T) {
	_, s := pocket(t)
	hang := make(chan struct{})
	url := serve(t, func(http.ResponseWriter, *http.Request) { <-hang })
	t.Cleanup(func() { close(hang) })
	s.Browser.Endpoint, s.Server, s.Deadline = url+"/send/x", url, 200*time.Millisecond
	if refusal := failure(t, channel(t, s)); !refusal.Retry || refusal.Gone || refusal.Text != "no answer within 200ms" {
		t.Errorf("refusal %+v", refusal)
	}
}

// A name that led to the internet when the phone was added, and leads into the
// house now, is not followed.
func TestWebPushDoesNotReachIntoTheHouse(t *testing.T) {
	reached := false
	url := serve(t, func(http.ResponseWriter, *http.Request) { reached = true })
	_, s := pocket(t)
	s.Browser.Endpoint, s.Server = strings.Replace(url, "127.0.0.1", "localhost", 1)+"/send/x", ""
	if refusal := failure(t, channel(t, s)); refusal.Retry || !strings.Contains(refusal.Text, "machine of this house") {
		t.Errorf("refusal %+v", refusal)
	}
	if reached {
		t.Error("the machine of the house was reached")
	}
}

func TestWebPushWithoutAPhoneSaysSo(t *testing.T) {
	c := channel(t, Settings{Name: "tv-push", Kind: "push", Contact: "tv@plover-shed.example"})
	if refusal := failure(t, c); refusal.Retry || refusal.Gone || !strings.Contains(refusal.Text, "press Ring this phone") {
		t.Errorf("refusal %+v", refusal)
	}
}

func TestBrowsersThatAreRefused(t *testing.T) {
	good := pushtest.NewBrowser()
	point, secret := good.P256dh(), good.Auth()
	const away = "https://push.example.net/send/abc"
	for _, c := range []struct{ endpoint, public, secret, says string }{
		{"http://push.example.net/send/abc", point, secret, "not an https address"},
		{"ftp://push.example.net/send/abc", point, secret, "not an https address"},
		{"https://", point, secret, "not a web address"},
		{"", point, secret, "not a web address"},
		{"https://u:p@push.example.net/x", point, secret, "not a web address"},
		{"https://push.example.net/" + strings.Repeat("x", longestEndpoint), point, secret, "longer than"},
		{"https://127.0.0.1/x", point, secret, "machine of this house"},
		{"https://[::1]/x", point, secret, "machine of this house"},
		{"https://[::ffff:192.168.1.1]/x", point, secret, "machine of this house"},
		{"https://[fe80::1%25eth0]/x", point, secret, "machine of this house"},
		{"https://[fd00::1]/x", point, secret, "machine of this house"},
		{"https://[64:ff9b::c0a8:101]/x", point, secret, "machine of this house"},
		{"https://192.168.1.1/x", point, secret, "machine of this house"},
		{"https://10.0.0.1:8443/x", point, secret, "machine of this house"},
		{"https://100.64.0.1/x", point, secret, "machine of this house"},
		{"https://169.254.169.254/x", point, secret, "machine of this house"},
		{"https://0.0.0.0/x", point, secret, "machine of this house"},
		{"https://localhost/x", point, secret, "machine of this house"},
		{"https://router/x", point, secret, "machine of this house"},
		{"https://router.LAN./x", point, secret, "machine of this house"},
		{"https://printer.local/x", point, secret, "machine of this house"},
		{away, "", secret, "not a point"},
		{away, "!", secret, "not base64"},
		{away, point[:80], secret, "not a point"},
		{away, pushtest.Raw.EncodeToString(append([]byte{4}, make([]byte, 64)...)), secret, "not a point"},
		{away, point, "", "16 bytes"},
		{away, point, secret + "AAAA", "16 bytes"},
	} {
		if _, err := NewBrowser(c.endpoint, c.public, c.secret, "https://push.larder.example"); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%.60s: %v, want %q", c.endpoint, err, c.says)
		}
	}
	for _, endpoint := range []string{away, "https://push.larder.example/x", "https://8.8.8.8/x", "https://[2001:4860:4860::8888]/x"} {
		if _, err := NewBrowser(endpoint, point+"=", secret+"==", ""); err != nil {
			t.Errorf("%s: %v", endpoint, err)
		}
	}
	if _, err := NewBrowser("http://192.168.1.9:8080/x", point, secret, "http://192.168.1.9:8080"); err != nil {
		t.Errorf("a push service of one's own: %v", err)
	}
	if _, err := NewBrowser("http://192.168.1.9:8081/x", point, secret, "http://192.168.1.9:8080"); err == nil {
		t.Error("the neighbour of a push service of one's own was taken")
	}
}

func FuzzNewBrowser(f *testing.F) {
	good := pushtest.NewBrowser()
	f.Add("https://push.example.net/send/abc", good.P256dh(), good.Auth(), "")
	f.Add("https://[::ffff:10.0.0.1]/", good.P256dh(), good.Auth(), "http://x")
	f.Add("https://127.1/", "", "", "http://127.1")
	f.Fuzz(func(t *testing.T, endpoint, public, secret, own string) {
		b, err := NewBrowser(endpoint, public, secret, own)
		if err == nil && (len(b.Public) != 65 || len(b.Secret) != secretLength || own == "" && !strings.HasPrefix(strings.ToLower(endpoint), "https://")) {
			t.Errorf("%q was taken as %+v", endpoint, b)
		}
	})
}
