package app

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/base64"
	"fmt"
	"net"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/backgroundservice"
	cdpbrowser "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/cdproto/target"
	"github.com/chromedp/chromedp"

	"flitch/alerts/push/pushtest"
)

// pin is the key of the certificate that a page is served with, as Chromium takes
// it. A phone would have installed the root instead; headless Chromium reads the
// roots of the machine, which a test leaves alone.
func pin(t *testing.T, address string) string {
	t.Helper()
	conn, err := tls.Dial("tcp", strings.TrimPrefix(address, "https://"), &tls.Config{InsecureSkipVerify: true}) // only to read the key
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	sum := sha256.Sum256(conn.ConnectionState().PeerCertificates[0].RawSubjectPublicKeyInfo)
	return base64.StdEncoding.EncodeToString(sum[:])
}

// atName is the address of the page by the name that the browser is told to find
// on this machine.
func (s *shop) atName() string {
	_, port, err := net.SplitHostPort(s.app.Address()[strings.LastIndexByte(s.app.Address(), '/')+1:])
	if err != nil {
		s.t.Fatal(err)
	}
	scheme, _, _ := strings.Cut(s.app.Address(), "://")
	return scheme + "://smokehouse.lan:" + port
}

var smokehouse = chromedp.Flag("host-resolver-rules", "MAP smokehouse.lan 127.0.0.1")

// allow lets the page show notifications, as a person does who is asked.
func (b *browser) allow(origin, setting string) {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := cdp.Call(ctx, chromedp.FromContext(ctx).Browser, cdpbrowser.SetPermission, cdpbrowser.SetPermissionParams{
			Permission: &cdpbrowser.PermissionDescriptor{Name: "notifications"}, Setting: cdpbrowser.PermissionSetting(setting), Origin: origin})
		return err
	}))
}

// eval runs a script that returns a promise of text.
func (b *browser) eval(script string) string {
	b.t.Helper()
	text, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](script, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return text
}

// subscribeAs lets the browser's push manager answer with a subscription at the
// push service of the test: the browser's own service is on the internet.
const subscribeAs = `
PushManager.prototype.getSubscription = function () { return Promise.resolve(null); };
PushManager.prototype.subscribe = function (o) {
	if (!o.userVisibleOnly) { return Promise.reject(new Error("not for people")); }
	sessionStorage.setItem("key", String(o.applicationServerKey));
	return Promise.resolve({ endpoint: %q, expirationTime: null, keys: { p256dh: %q, auth: %q } });
};`

// attend lets the browser tell of its service workers and notifications.
func (b *browser) attend() {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		const kind = backgroundservice.ServiceNameNotifications
		_, err := cdp.Call(ctx, t, serviceworker.Enable, cdp.Empty{})
		if err == nil {
			_, err = cdp.Call(ctx, t, backgroundservice.StartObserving, backgroundservice.StartObservingParams{Service: kind})
		}
		if err == nil {
			_, err = cdp.Call(ctx, t, backgroundservice.SetRecording, backgroundservice.SetRecordingParams{ShouldRecord: true, Service: kind})
		}
		return err
	}))
}

// deliver hands a decrypted message to the service worker as the browser would,
// and waits until the browser says that a notification is displayed. Asking for
// the list any earlier would make the browser forget one on its way.
func (b *browser) deliver(origin, raw string) {
	b.t.Helper()
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, serviceworker.DeliverPushMessage, serviceworker.DeliverPushMessageParams{
			Origin: origin, RegistrationID: b.registration(), Data: raw})
		return err
	}))
	for {
		select {
		case what := <-b.shows:
			b.t.Log("the browser tells:", what)
			if what == "Notification displayed" {
				return
			}
		case <-time.After(time.Minute):
			b.t.Fatal("no notification is displayed")
		}
	}
}

// registration waits until the browser has told of the service worker.
func (b *browser) registration() serviceworker.RegistrationID {
	b.t.Helper()
	deadline := time.Now().Add(time.Minute)
	for {
		b.mu.Lock()
		known := len(b.workers)
		var id serviceworker.RegistrationID
		if known > 0 {
			id = b.workers[known-1].RegistrationID
		}
		b.mu.Unlock()
		if known > 0 {
			return id
		}
		if time.Now().After(deadline) {
			b.t.Fatal("the browser tells of no service worker")
		}
		pause(b.ctx, 50*time.Millisecond)
	}
}

// shown is the notification of that tag as a line; empty if there is none.
func (b *browser) shown(tag string) string {
	b.t.Helper()
	return b.eval(fmt.Sprintf(`navigator.serviceWorker.ready
		.then(function (r) { return r.getNotifications({ tag: %q }); })
		.then(function (all) { return all.map(function (n) {
			return [n.title, n.body, n.tag, n.requireInteraction, n.renotify, n.data.link].join("|"); }).join("\n"); })`, tag))
}

// The whole way in a real browser: the page by https with the house's own
// certificate, one press of the button, a ring that is encrypted to the browser,
// and the notification that its service worker shows. Only the push service on the
// internet is a stand-in.
func TestThePageRingsThisPhone(t *testing.T) {
	s, service := ringShop(t)
	phone := pushtest.NewBrowser()
	b := openBrowser(t, chromedp.Flag("ignore-certificate-errors-spki-list", pin(t, s.app.Address())), smokehouse)
	origin := s.atName()
	b.allow(origin, "granted")
	b.attend()
	b.do(chromedp.Navigate(origin + "/phones"))
	b.sees("h1", "Ring this phone")
	b.sees("#ring", "What this phone is called")
	b.eval(fmt.Sprintf(subscribeAs, service.Subscribe("grey", phone), phone.P256dh(), phone.Auth()) + `Promise.resolve("")`)
	b.do(chromedp.SendKeys(chromedp.CSS(`#by`), "T.V."), chromedp.SendKeys(chromedp.CSS(`#name`), "grey phone"), chromedp.Click(chromedp.CSS(`#ring button`)))
	b.sees(".alarm-title", "grey phone, T.V., for push")
	b.narrow(t, "FLITCH_PICTURE_PHONES")
	if key := b.eval(`Promise.resolve(sessionStorage.getItem("key"))`); key != decimals(t, service.Key) {
		t.Errorf("the browser was given the key %s", key)
	}
	s.settle()
	for _, notice := range service.Got("grey") {
		b.deliver(origin, notice.Raw)
		if got := b.shown(notice.Tag); !strings.HasPrefix(got, "This phone rings for flitch|Nothing is wrong.") {
			t.Errorf("the greeting is shown as %q", got)
		}
	}
	s.begin(raw)
	s.fridgeWarm(0, 21*minute)
	got := service.Got("grey")
	if len(got) != 1 {
		t.Fatalf("the phone has %q; faults %q", titles(got), service.Faults())
	}
	b.deliver(origin, got[0].Raw)
	want := strings.Join([]string{got[0].Title, got[0].Text, "alarm-1", "true", "true", got[0].Link}, "|")
	if shown := b.shown("alarm-1"); shown != want || !strings.HasPrefix(shown, "RING Fridge too warm") {
		t.Errorf("shown is %q, want %q", shown, want)
	}
	b.deliver(origin, got[0].Raw) // a repeat takes its place
	if shown := b.shown("alarm-1"); shown != want {
		t.Errorf("after a repeat %q is shown", shown)
	}
	b.taps(t, got[0].Link)
	b.changes(t, service.Server.URL+"/send/grey", service.Subscribe("grey-2", phone), phone)
	if phones, err := s.app.db.Phones(); err != nil || len(phones) != 1 || !strings.HasSuffix(phones[0].Endpoint, "/send/grey-2") || phones[0].Name != "grey phone" {
		t.Errorf("after the browser changed its subscription the list is %+v, %v", phones, err)
	}
	b.quiet(origin)
}

// changes: the browser gives up a subscription and says so to the worker, which asks for
// another with the key it remembers, and tells flitch. A second one that flitch does not
// know is for a person to see.
func (b *browser) changes(t *testing.T, before, after string, phone *pushtest.Browser) {
	t.Helper()
	got := b.worker(fmt.Sprintf(`(function () {
		var asked = "", told = [];
		PushManager.prototype.subscribe = function (o) {
			asked = o.userVisibleOnly + " " + String(o.applicationServerKey);
			return Promise.resolve({ endpoint: %q, expirationTime: null, keys: { p256dh: %q, auth: %q } });
		};
		self.registration.showNotification = function (title, how) { told.push(title + "|" + how.data.link); return Promise.resolve(); };
		return renew({}).then(function () { return renew({ oldSubscription: { endpoint: %q } }); })
			.then(function () { return remembered(); })
			.then(function (was) { return [asked, was.endpoint, told.join(" ")].join("\n"); });
	})()`, after, phone.P256dh(), phone.Auth(), before))
	key := b.eval(`Promise.resolve(sessionStorage.getItem("key"))`)
	if want := "true " + key + "\n" + after + "\nThis phone rings no more for flitch|/phones"; got != want {
		t.Errorf("the worker did %q, want %q", got, want)
	}
	if listens := b.worker(`(function () { var heard = ""; var was = renew;
		renew = function (event) { heard = event.type; return Promise.resolve(); };
		try { self.onerror = function () { return true; }; self.dispatchEvent(new ExtendableEvent("pushsubscriptionchange")); } catch (e) { heard = String(e); }
		renew = was; return Promise.resolve(heard); })()`); listens != "pushsubscriptionchange" {
		t.Errorf("the worker heard %q", listens)
	}
}

// worker runs a script that returns a promise of text in the service worker.
func (b *browser) worker(script string) string {
	b.t.Helper()
	text, err := chromedp.Run(b.inside(), chromedp.Evaluate[string](script, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return text
}

// inside is the service worker. Its context stays to the end: to end it ends the worker.
func (b *browser) inside() context.Context {
	b.t.Helper()
	if b.within != nil {
		return b.within
	}
	all, err := chromedp.Targets(b.ctx)
	if err != nil {
		b.t.Fatal(err)
	}
	for _, one := range all {
		if one.Type == "service_worker" {
			ctx, end := chromedp.NewContext(b.ctx, chromedp.WithTargetID(target.ID(one.TargetID)))
			b.t.Cleanup(end)
			b.within = ctx
			return ctx
		}
	}
	b.t.Fatalf("no service worker among %d targets", len(all))
	return nil
}

// taps: a tap on the notification closes it and opens its link. Only a person's
// own tap may open a window, so what is asked of the browser is noted instead.
func (b *browser) taps(t *testing.T, link string) {
	t.Helper()
	opened := b.worker(`(function () {
		var opened = "nothing";
		self.clients.openWindow = function (link) { opened = link; return Promise.resolve(null); };
		return self.registration.getNotifications({ tag: "alarm-1" }).then(function (all) {
			try { self.onerror = function () { return true; };
				self.dispatchEvent(new NotificationEvent("notificationclick", { notification: all[0] })); } catch (e) { opened = String(e); }
			return opened;
		});
	})()`)
	if opened != link {
		t.Errorf("a tap opens %q, want %q", opened, link)
	}
}

// ringShop is served by https by the house's own authority and has a channel of
// kind push.
func ringShop(t *testing.T) (*shop, *pushtest.Service) {
	t.Helper()
	s, service := ownShop(t), pushtest.NewService()
	t.Cleanup(service.Server.Close)
	s.cfg.Channels = append(s.cfg.Channels, pushChannelFor(service, 5*time.Second))
	s.open()
	service.Key = s.app.ringing().SenderKey
	return s, service
}

// decimals is a key as String(Uint8Array) writes it.
func decimals(t *testing.T, key string) string {
	t.Helper()
	raw, err := pushtest.Raw.DecodeString(key)
	if err != nil {
		t.Fatal(err)
	}
	return strings.ReplaceAll(strings.Trim(fmt.Sprint(raw), "[]"), " ", ",")
}

// narrow: the page fits a phone; a picture is kept where the variable says.
func (b *browser) narrow(t *testing.T, variable string) {
	t.Helper()
	if wide := b.number(`document.documentElement.scrollWidth`); wide > phoneWidth {
		t.Errorf("the page is %g px wide on a phone of %d", wide, phoneWidth)
	}
	path := os.Getenv(variable)
	if path == "" {
		return
	}
	picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(path, picture, 0o644)
	}
	if err != nil {
		t.Error(err)
	}
}

// By plain http under a name of the house, the page says what is missing and which
// ways work all the same; the page about the root fits a phone.
func TestThePageByPlainHTTPSaysWhatIsMissing(t *testing.T) {
	s := newShop(t)
	service := pushtest.NewService()
	t.Cleanup(service.Server.Close)
	s.cfg.Page.Link = "http://smokehouse.lan"
	s.cfg.Channels = append(s.cfg.Channels, pushChannelFor(service, time.Second))
	s.open()
	b := openBrowser(t, smokehouse)
	b.do(chromedp.Navigate(s.atName() + "/phones"))
	b.sees("#trouble", "This page came by plain http")
	b.sees("body", "phone (http)")
	b.narrow(t, "FLITCH_PICTURE_PLAIN")
	if offered := b.number(`document.querySelectorAll("#ring:not([hidden])").length`); offered != 0 {
		t.Error("the button is offered")
	}
	s.close()

	own := ownShop(t)
	own.open()
	b.do(chromedp.Navigate(own.app.PlainAddress() + "/"))
	b.sees(".finger", own.app.RootFingerprint())
	b.narrow(t, "FLITCH_PICTURE_ROOT")
}

// Without internet the browser's push service does not answer, and it may refuse:
// both are told, and the button can be pressed again.
func TestThePageWithoutAPushService(t *testing.T) {
	s, _ := ringShop(t)
	b := openBrowser(t, chromedp.Flag("ignore-certificate-errors-spki-list", pin(t, s.app.Address())), smokehouse)
	b.allow(s.atName(), "granted")
	b.do(chromedp.Navigate(s.atName()+"/phones"), chromedp.SendKeys(chromedp.CSS(`#by`), "T.V."), chromedp.SendKeys(chromedp.CSS(`#name`), "grey phone"))
	b.eval(`PushManager.prototype.subscribe = function () { return Promise.reject(new Error("no push today")); }; Promise.resolve("")`)
	b.do(chromedp.Click(chromedp.CSS(`#ring button`)))
	b.sees("#trouble", "It did not work: no push today")
	b.eval(`var real = window.setTimeout; window.setTimeout = function (f, ms) { return real(f, ms / 100); };
		PushManager.prototype.subscribe = function () { return new Promise(function () {}); }; Promise.resolve("")`)
	b.do(chromedp.Click(chromedp.CSS(`#ring button`)))
	b.sees("#trouble", "does not answer")
	if disabled := b.number(`document.querySelectorAll("#ring button:disabled").length`); disabled != 0 {
		t.Error("the button cannot be pressed again")
	}
	if phones, err := s.app.db.Phones(); err != nil || len(phones) != 0 {
		t.Errorf("phones %+v, %v", phones, err)
	}
}

// A person who has forbidden notifications is told what to do, and nothing is sent.
func TestThePageWhenNotificationsAreForbidden(t *testing.T) {
	s, _ := ringShop(t)
	b := openBrowser(t, chromedp.Flag("ignore-certificate-errors-spki-list", pin(t, s.app.Address())), smokehouse)
	b.allow(s.atName(), "denied")
	b.do(chromedp.Navigate(s.atName()+"/phones"), chromedp.SendKeys(chromedp.CSS(`#by`), "T.V."),
		chromedp.SendKeys(chromedp.CSS(`#name`), "grey phone"), chromedp.Click(chromedp.CSS(`#ring button`)))
	b.sees("#trouble", "Notifications are blocked")
	if phones, err := s.app.db.Phones(); err != nil || len(phones) != 0 {
		t.Errorf("phones %+v, %v", phones, err)
	}
}
