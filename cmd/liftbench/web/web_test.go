// The page's questions and answers, with a bench made up for it.

package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"liftbench/cmd/liftbench/language"
	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
	"liftbench/sections/motion"
	"liftbench/sections/score"
	"liftbench/sim"
)

// still is a bench of two controls whose drives are a tractor that stands.
func still(t testing.TB) Bench {
	t.Helper()
	ring := orb.Ring{{0, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 0}}
	f, err := field.New(geodesy.NewPlane(52, 11), nil, []field.Zone{{Name: "a", Polygons: orb.MultiPolygon{{ring}}}})
	if err != nil {
		t.Fatal(err)
	}
	return Bench{
		Version: "test",
		Controls: []Control{
			{Key: "speed_kmh", Kind: Number, Min: 1, Max: 20, Default: 8.0, Unit: "km/h"},
			{Key: "lead", Kind: NumberOrAuto, Min: 0, Max: 100, Default: "auto", Unit: "ms"},
			{Key: "rule", Kind: Word, Words: []string{"a", "b"}, Default: "a"},
			{Key: "width", Kind: Choice, Choices: []float64{0.5, 1}, Default: 1.0},
			{Key: "on", Kind: Switch, Default: true},
		},
		Lessons: []Lesson{},
		Run: func(_ context.Context, a *Ask) (*Drive, error) {
			track := motion.Track{{TimeNs: 1e9}, {TimeNs: 2e9, EastM: 1, SpeedMps: 1}}
			events := []score.Event{{IdealNs: 1.2e9, ActualNs: 1.3e9, TimeErrorS: 0.1, PlaceErrorM: 0.1, SpeedMps: 1}}
			return &Drive{
				Set: a.Set, Field: f, Machine: &sections.Machine{Sections: []sections.Section{{WidthM: 1}}},
				Outcome: &sim.Outcome{Track: track, Score: &score.Result{Events: events}},
				Summary: []byte("{}"),
			}, nil
		},
		Files: []File{{"numbers.csv", "text/csv", func(*Drive, language.Language) ([]byte, error) { return []byte("a,b\n"), nil }}},
	}
}

func ask(h http.Handler, method, target, contentType, body string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, target, strings.NewReader(body))
	if contentType != "" {
		r.Header.Set("Content-Type", contentType)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestQuestions(t *testing.T) {
	h := Handler(still(t))
	const js = "application/json"
	for _, c := range []struct {
		name, method, target, contentType, body string
		want                                    int
		says                                    string
	}{
		{"page", "GET", "/", "", "", 200, "<html"},
		{"what the page is made of", "GET", "/api/page", "", "", 200, `"safety":"A bench, not a safety function.`},
		{"run", "POST", "/api/run", js, `{"speed_kmh":9}`, 200, `"query":"v=1\u0026speed_kmh=9"`},
		{"run, nothing set", "POST", "/api/run", js, ``, 200, `"query":"v=1"`},
		{"a default is no part of the link", "POST", "/api/run", js, `{"speed_kmh":8,"on":true}`, 200, `"query":"v=1"`},
		{"speeds", "POST", "/api/speeds", js, `{}`, 200, `"points":[[0,1000,1000,0],`},
		{"close-up", "POST", "/api/closeup?crossing=0", js, `{}`, 200, `"timeError":1000`},
		{"download", "GET", "/api/numbers.csv?v=1&speed_kmh=9", "", "", 200, "a,b\n"},
		{"download, posted", "POST", "/api/numbers.csv", js, "{}", 200, "a,b\n"},

		{"unknown question", "GET", "/api/wash", "", "", 404, "no question of the page"},
		{"unknown file", "GET", "/wash.js", "", "", 404, ""},
		{"up and out", "GET", "/../web.go", "", "", 307, ""}, // net/http cleans the path
		{"up and out, encoded", "GET", "/%2e%2e/web.go", "", "", 404, ""},
		{"up and out, backwards", "GET", `/..%5cweb.go`, "", "", 404, ""},
		{"a list of files", "GET", "/page/", "", "", 404, ""},
		{"run by GET", "GET", "/api/run", "", "", 405, "expected POST"},
		{"page by POST", "POST", "/", "", "", 405, "expected GET or HEAD"},
		{"page by DELETE", "DELETE", "/api/page", "", "", 405, "expected GET"},
		{"a form's plain text", "POST", "/api/run", "text/plain", `{}`, 415, ""},
		{"no type", "POST", "/api/run", "", `{}`, 415, ""},
		{"no JSON", "POST", "/api/run", js, `{`, 400, "no JSON object"},
		{"a list", "POST", "/api/run", js, `[1]`, 400, "no JSON object"},
		{"unknown setting", "POST", "/api/run", js, `{"b":1,"a":2}`, 400, `unknown setting \"a\"`},
		{"too fast", "POST", "/api/run", js, `{"speed_kmh":99}`, 400, `{"error":"speed_kmh: found 99; expected a number from 1 to 20 km/h","key":"speed_kmh"}`},
		{"text for a number", "POST", "/api/run", js, `{"speed_kmh":"fast"}`, 400, `found \"fast\"`},
		{"null", "POST", "/api/run", js, `{"speed_kmh":null}`, 400, "found null"},
		{"not a number", "GET", "/api/numbers.csv?v=1&speed_kmh=NaN", "", "", 400, "found NaN; expected a number"},
		{"infinite", "GET", "/api/numbers.csv?v=1&speed_kmh=Inf", "", "", 400, "found +Inf; expected a number"},
		{"neither auto nor a number", "POST", "/api/run", js, `{"lead":"soon"}`, 400, "expected auto, or a number from 0 to 100 ms"},
		{"no such word", "POST", "/api/run", js, `{"rule":"c"}`, 400, "expected one of: a, b"},
		{"no such choice", "POST", "/api/run", js, `{"width":0.7}`, 400, "expected one of"},
		{"no switch", "POST", "/api/run", js, `{"on":1}`, 400, "expected true or false"},
		{"a link of tomorrow", "GET", "/api/numbers.csv?v=2&speed_kmh=9", "", "", 400, "expected v=1"},
		{"a link without version", "GET", "/api/numbers.csv?speed_kmh=9", "", "", 400, "expected v=1"},
		{"no such crossing", "POST", "/api/closeup?crossing=7", js, `{}`, 400, "expected 0 to 0"},
		{"no crossing", "POST", "/api/closeup", js, `{}`, 400, "expected 0 to 0"},
		{"a long setting", "POST", "/api/run", js, strings.Repeat(" ", 64<<10+1), 413, "larger than 65536 bytes"},
		{"nothing live", "GET", "/api/live", "", "", 404, "nothing is live"},
		{"no state", "GET", "/api/live/state", "", "", 404, "nothing is live"},
		{"no form", "POST", "/api/run", "multipart/form-data; boundary=x", "hello", 400, "no whole form"},
	} {
		w := ask(h, c.method, c.target, c.contentType, c.body)
		if w.Code != c.want || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s: status %d, %.300s; want %d, %s", c.name, w.Code, w.Body, c.want, c.says)
		}
		head := w.Header()
		if head.Get("X-Content-Type-Options") != "nosniff" || head.Get("Content-Security-Policy") != contentSecurityPolicy || head.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: headers %v", c.name, head)
		}
		if strings.HasPrefix(c.target, "/api/") && c.want >= 400 && !json.Valid(w.Body.Bytes()) {
			t.Errorf("%s: %.100s is no JSON", c.name, w.Body)
		}
	}
	if strings.Contains(contentSecurityPolicy, "unsafe") {
		t.Error("the policy lets inline script or style in")
	}
}

// TestCloseUpOfAKeptDrive: by the name of the drive alone, while it is kept.
func TestCloseUpOfAKeptDrive(t *testing.T) {
	h := Handler(still(t))
	const js = "application/json"
	run := func(speed int) (name string) {
		w := ask(h, "POST", "/api/run", js, fmt.Sprintf(`{"speed_kmh":%d}`, speed))
		var a struct{ Drive string }
		if err := json.Unmarshal(w.Body.Bytes(), &a); err != nil || len(a.Drive) != 64 {
			t.Fatalf("%v: %.100s", err, w.Body)
		}
		return a.Drive
	}
	name := run(9)
	want := ask(h, "POST", "/api/closeup?crossing=0", js, `{"speed_kmh":9}`).Body.String()
	if w := ask(h, "POST", "/api/closeup?crossing=0&drive="+name, js, "{}"); w.Code != 200 || w.Body.String() != want {
		t.Errorf("by name: status %d, %.200s; want %.200s", w.Code, w.Body, want)
	}
	for speed := range kept {
		run(speed + 10)
	}
	for _, gone := range []string{name, "x", name[:62], name + "00", strings.Repeat("z", 64)} {
		if w := ask(h, "POST", "/api/closeup?crossing=0&drive="+gone, js, "{}"); w.Code != http.StatusGone || !strings.Contains(w.Body.String(), "no longer kept") {
			t.Errorf("%s: status %d, %.200s; want %d", gone, w.Code, w.Body, http.StatusGone)
		}
	}
}

// TestFilesArePlain: the page has no script or style of its own in its markup,
// asks no other host, and weighs little.
func TestFilesArePlain(t *testing.T) {
	total := 0
	for path, text := range pageFiles() {
		total += len(text)
		for _, bad := range []string{"<style", " style=\"", "javascript:", "eval(", "new Function"} {
			if strings.Contains(text, bad) {
				t.Errorf("%s holds %q", path, bad)
			}
		}
		if strings.HasSuffix(path, ".html") && strings.Contains(strings.ReplaceAll(text, "<script type=\"module\" src=", ""), "<script") {
			t.Errorf("%s holds a script inline", path)
		}
		for _, scheme := range []string{"http://", "https://", "ws://"} {
			for rest := text; ; {
				_, after, ok := strings.Cut(rest, scheme)
				if !ok {
					break
				}
				if !strings.HasPrefix(after, "www.w3.org/") {
					t.Errorf("%s names %s%.40s", path, scheme, after)
				}
				rest = after
			}
		}
	}
	if total > 300_000 {
		t.Errorf("the page weighs %d bytes; want 300000 at most", total)
	}
	t.Logf("the page weighs %d bytes before compression", total)
}

func TestGzip(t *testing.T) {
	b := still(t)
	b.Version = strings.Repeat("1.0 ", 500) // long enough to be worth it
	h := Handler(b)
	for _, target := range []string{"/", "/api/page"} {
		plain := ask(h, "GET", target, "", "")
		for _, c := range []struct {
			accept string
			want   string
		}{{"gzip, br", "gzip"}, {"br, gzip;q=0.5", "gzip"}, {"gzip;q=0", ""}, {"gzip;q=0.0", ""}, {"gzip; Q=0.000", ""}, {"gzip;q=0.001", "gzip"}, {"gzip;q=much", ""}, {"br", ""}} {
			r := httptest.NewRequest("GET", target, nil)
			r.Header.Set("Accept-Encoding", c.accept)
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			if got := w.Header().Get("Content-Encoding"); got != c.want {
				t.Errorf("%s, %s: encoding %q, want %q", target, c.accept, got, c.want)
				continue
			}
			body := io.Reader(w.Body)
			if c.want == "gzip" {
				z, err := gzip.NewReader(w.Body)
				if err != nil {
					t.Fatal(err)
				}
				body = z
			}
			if got, err := io.ReadAll(body); err != nil || !bytes.Equal(got, plain.Body.Bytes()) {
				t.Errorf("%s, %s: another body, %v", target, c.accept, err)
			}
		}
	}
}

// TestQueueIsBounded: so many at a time, so many that wait, the others are
// told to come again; nobody is forgotten.
func TestQueueIsBounded(t *testing.T) {
	b := still(t)
	gate := make(chan struct{})
	var mu sync.Mutex
	now, most := 0, 0
	run := b.Run
	b.Run = func(ctx context.Context, a *Ask) (*Drive, error) {
		mu.Lock()
		now++
		most = max(most, now)
		mu.Unlock()
		<-gate
		mu.Lock()
		now--
		mu.Unlock()
		return run(ctx, a)
	}
	h := Handler(b)
	codes := make(chan int, 64)
	const asked = atOnce + mayWait + 5
	for i := range asked {
		go func() {
			// Each another setting, so that none is answered from what is kept.
			codes <- ask(h, "POST", "/api/run", "application/json", fmt.Sprintf(`{"speed_kmh":%d}`, i+1)).Code
		}()
	}
	for range 5 {
		if code := <-codes; code != http.StatusServiceUnavailable {
			t.Errorf("status %d before anything is done", code)
		}
	}
	close(gate)
	for range asked - 5 {
		if code := <-codes; code != 200 {
			t.Errorf("one that waited: status %d", code)
		}
	}
	if most > atOnce {
		t.Errorf("%d at a time; want %d at most", most, atOnce)
	}
}

// unread counts what is read of a body.
type unread struct{ bytes int }

func (u *unread) Read(b []byte) (int, error) {
	u.bytes += len(b)
	return len(b), nil
}

// TestBusyReadsNothing: what finds every place taken is refused before its
// upload is read into memory.
func TestBusyReadsNothing(t *testing.T) {
	b := still(t)
	s := newQueue()
	var leave []func()
	for range atOnce + mayWait {
		l, err := s.place()
		if err != nil {
			t.Fatal(err)
		}
		leave = append(leave, l)
	}
	h := (&server{bench: b, queue: s}).compute((&server{bench: b, queue: s}).run)
	body := &unread{}
	r := httptest.NewRequest("POST", "/api/run", body)
	r.Header.Set("Content-Type", "application/json")
	w := httptest.NewRecorder()
	h(w, r)
	if w.Code != http.StatusServiceUnavailable || body.bytes > 0 {
		t.Errorf("status %d after %d bytes; want 503 after none", w.Code, body.bytes)
	}
	for _, l := range leave {
		l()
	}
}

// TestKeptDrives: a close-up of the drive just seen does not run it again; an
// old one is run again.
func TestKeptDrives(t *testing.T) {
	b := still(t)
	runs := 0
	run := b.Run
	b.Run = func(ctx context.Context, a *Ask) (*Drive, error) { runs++; return run(ctx, a) }
	h := Handler(b)
	for i, c := range []struct {
		target, set string
		want        int // runs so far
	}{
		{"/api/run", `{"speed_kmh":2}`, 1},
		{"/api/closeup?crossing=0", `{"speed_kmh":2}`, 1},
		{"/api/numbers.csv", `{"speed_kmh":2}`, 1},
		{"/api/run", `{"speed_kmh":3}`, 2},
		{"/api/run", `{"speed_kmh":4}`, 3},
		{"/api/run", `{"speed_kmh":5}`, 4},
		{"/api/run", `{"speed_kmh":2}`, 4}, // and is the newest again
		{"/api/run", `{"speed_kmh":6}`, 5},
		{"/api/run", `{"speed_kmh":2}`, 5},
		{"/api/run", `{"speed_kmh":3}`, 6},
	} {
		if w := ask(h, "POST", c.target, "application/json", c.set); w.Code != 200 || runs != c.want {
			t.Errorf("%d: status %d, %d runs; want %d", i, w.Code, runs, c.want)
		}
	}
	// Another file is another drive, whatever the setting.
	for _, content := range []string{"one", "two", "two"} {
		var body bytes.Buffer
		form := multipart.NewWriter(&body)
		part, _ := form.CreateFormFile("field", "f")
		io.WriteString(part, content)
		form.Close()
		ask(h, "POST", "/api/run", form.FormDataContentType(), body.String())
	}
	if runs != 8 {
		t.Errorf("%d runs after three uploads of two fields; want 8", runs)
	}
}

// TestOwnFault: an error that is not the asker's is a 500, without a key.
func TestOwnFault(t *testing.T) {
	b := still(t)
	b.Run = func(context.Context, *Ask) (*Drive, error) { return nil, errors.New("the pump stopped") }
	if w := ask(Handler(b), "POST", "/api/run", "application/json", "{}"); w.Code != 500 || w.Body.String() != `{"error":"the pump stopped"}` {
		t.Errorf("status %d, %s", w.Code, w.Body)
	}
}

func TestFileName(t *testing.T) {
	for given, want := range map[string]string{
		"day.nmea": "day.nmea", `C:\logs\day.nmea`: "day.nmea", "../../etc/passwd": "passwd", "": "log", "..": "log", "/": "log",
		"a\nb\x00c": "abc", strings.Repeat("x", 200): strings.Repeat("x", 80),
	} {
		if got := fileName(given, "log"); got != want {
			t.Errorf("%q is called %q, want %q", given, got, want)
		}
	}
}

// FuzzAsk: whatever is asked gets an answer in JSON or a sentence that says what
// is wrong, and the link in an answer holds the setting that was asked for.
func FuzzAsk(f *testing.F) {
	f.Add("application/json", `{"speed_kmh":9}`)
	f.Add("application/json", `{"speed_kmh":1.0000000000000002e1,"lead":0,"rule":"b","width":0.5,"on":false}`)
	f.Add("application/json; charset=utf-8", "v=1&speed_kmh=9&lead=auto&rule=b&width=0.5&on=false")
	f.Add("multipart/form-data; boundary=x", "--x\r\nContent-Disposition: form-data; name=\"set\"\r\n\r\n{}\r\n--x--\r\n")
	f.Add("multipart/form-data; boundary=x", "--x\r\nContent-Disposition: form-data; name=\"log\"; filename=\"../a\"\r\n\r\nx\r\n--x--\r\n")
	b := still(f)
	h := Handler(b)
	s := &server{bench: b}
	checkSaid := func(t *testing.T, w *httptest.ResponseRecorder) {
		var said Error
		if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || w.Code >= 500 || said.Msg == "" {
			t.Errorf("status %d, %v, %.300q", w.Code, err, w.Body)
		}
	}
	checkLink := func(t *testing.T, link string, set map[string]any) {
		again, err := s.fromQuery(link)
		if err != nil || Query(b.Controls, again.Set) != link {
			t.Fatalf("the link %s is read as %v, %v", link, again, err)
		}
		for i := range b.Controls {
			c := &b.Controls[i]
			if v, ok := set[c.Key]; ok && v != c.Default && v != again.Set[c.Key] {
				t.Errorf("%s: %v was set, the link %s holds %v", c.Key, v, link, again.Set[c.Key])
			}
		}
	}
	f.Fuzz(func(t *testing.T, contentType, body string) {
		if w := ask(h, "POST", "/api/run", contentType, body); w.Code != 200 {
			checkSaid(t, w)
		} else {
			var a struct {
				Query string
				Set   map[string]any
			}
			if err := json.Unmarshal(w.Body.Bytes(), &a); err != nil {
				t.Fatalf("%v in %.300q", err, w.Body)
			}
			checkLink(t, a.Query, a.Set)
		}
		r := httptest.NewRequest("GET", "/api/numbers.csv", nil)
		r.URL.RawQuery = body
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != 200 {
			checkSaid(t, w)
		} else if a, err := s.fromQuery(body); err != nil {
			t.Errorf("query %q: %v", body, err)
		} else {
			checkLink(t, Query(b.Controls, a.Set), a.Set)
		}
	})
}

// TestFeedFallsBehind: a browser that missed more than is kept gets the state.
func TestFeedFallsBehind(t *testing.T) {
	f := &Feed{Run: "a"}
	for i := range feedKept + 10 {
		f.Publish([]byte("{}"), fmt.Appendf(nil, `{"n":%d}`, i))
	}
	for _, c := range []struct {
		seen    int64
		state   bool
		changes int
	}{{-1, true, 0}, {0, true, 0}, {9, true, 0}, {10, false, feedKept}, {feedKept + 9, false, 1}, {feedKept + 10, false, 0}, {feedKept + 11, true, 0}} {
		state, changes, last, _ := f.since(c.seen)
		if (state != nil) != c.state || len(changes) != c.changes || last != feedKept+10 {
			t.Errorf("seen %d: state %v, %d changes, last %d", c.seen, state != nil, len(changes), last)
		}
	}
}

// TestFollowersAreBounded: one more than may follow is told to come again.
func TestFollowersAreBounded(t *testing.T) {
	b := still(t)
	b.Live, b.Now = &Feed{Run: "a"}, func() Instant { return Instant{} }
	server := httptest.NewServer(Handler(b))
	defer server.Close()
	var open []*http.Response
	for range maxFollowers {
		resp, err := http.Get(server.URL + "/api/live")
		if err != nil || resp.StatusCode != 200 {
			t.Fatalf("%v, %v", resp, err)
		}
		open = append(open, resp)
	}
	resp, err := http.Get(server.URL + "/api/live")
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("status %d", resp.StatusCode)
	}
	for _, r := range open {
		r.Body.Close()
	}
	// Their places come free.
	for deadline := time.Now().Add(5 * time.Second); len(followers) > 0 && time.Now().Before(deadline); {
		time.Sleep(10 * time.Millisecond)
	}
	if n := len(followers); n > 0 {
		t.Errorf("%d places are still taken", n)
	}
}
