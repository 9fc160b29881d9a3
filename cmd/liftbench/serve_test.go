// The page behind its server: setting, export, uploads, and who is kept out.

package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"liftbench/cmd/liftbench/page"
	"liftbench/cmd/liftbench/settings"
	tapecommand "liftbench/cmd/liftbench/tape"
	"liftbench/cmd/liftbench/web"
	"liftbench/replay/diagnose"
)

// askPage asks the page's server in process.
func askPage(h http.Handler, method, target, contentType string, body io.Reader) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, target, body)
	if contentType != "" {
		r.Header.Set("Content-Type", contentType)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// form makes a form with files: part, name and content in turn.
func form(t testing.TB, set string, files ...[3]string) (contentType string, body *bytes.Buffer) {
	t.Helper()
	body = &bytes.Buffer{}
	m := multipart.NewWriter(body)
	if set != "" {
		if err := m.WriteField("set", set); err != nil {
			t.Fatal(err)
		}
	}
	for _, f := range files {
		w, err := m.CreateFormFile(f[0], f[1])
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, f[2])
	}
	if err := m.Close(); err != nil {
		t.Fatal(err)
	}
	return m.FormDataContentType(), body
}

// localTimes returns work states with the times of Berlin's clocks, which do not say so.
func localTimes(t *testing.T, path string) string {
	t.Helper()
	utc, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	local := regexp.MustCompile(`\d{4}-\d\d-\d\dT[0-9:.]+Z`).ReplaceAllStringFunc(string(utc), func(text string) string {
		at, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			t.Fatal(err)
		}
		n++
		return at.In(berlin).Format("2006-01-02 15:04:05.999999999")
	})
	if n == 0 {
		t.Fatalf("no times in %.200s", utc)
	}
	return local
}

// TestZoneOfUpload: work states with local times and their zone give the diagnosis
// of those with UTC, the setting that is saved runs, and what is wrong with the
// zone is said of it.
func TestZoneOfUpload(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	if status, _, stderr := command("", "diagnose", "--write-demo", dir); status != 0 {
		t.Fatal(stderr)
	}
	read := func(name string) string {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	h := web.Handler(newTestBench(t).Web())
	day := [][3]string{{"machine", "machine.yaml", read("machine.yaml")}, {"field", "field.geojson", read("field.geojson")}, {"log", "day.nmea.gz", read("day.nmea.gz")}}
	ask := func(target, states, zone string) *httptest.ResponseRecorder {
		files := append(day[:3:3], [3]string{"states", "day.states.csv", states})
		if states == "" {
			files = day
		}
		if zone != "" {
			files = append(files, [3]string{"zone", "zone", zone})
		}
		contentType, body := form(t, "", files...)
		return askPage(h, "POST", target, contentType, body)
	}
	utc, local := read("day.states.csv"), localTimes(t, "day.states.csv")
	if got, want := ask("/api/run", local, "Europe/Berlin"), ask("/api/run", utc, ""); got.Code != 200 || want.Code != 200 {
		t.Fatalf("status %d: %.300s; of UTC %d", got.Code, got.Body, want.Code)
	} else {
		var a, b struct{ Diagnosis, Events json.RawMessage }
		if json.Unmarshal(got.Body.Bytes(), &a) != nil || json.Unmarshal(want.Body.Bytes(), &b) != nil || len(a.Diagnosis) < 100 || !bytes.Equal(a.Events, b.Events) || !bytes.Equal(a.Diagnosis, b.Diagnosis) {
			t.Errorf("local times give\n%.600s\nUTC gives\n%.600s", a.Diagnosis, b.Diagnosis)
		}
	}
	if setting := ask("/api/setting.yaml", local, "Europe/Berlin").Body.String(); !strings.Contains(setting, "\nstates_zone: \"Europe/Berlin\"\n") {
		t.Errorf("the setting that is saved names no zone:\n%.400s", setting)
	}
	for _, c := range []struct{ states, zone, file, says string }{
		{local, "", "states", "has no offset from UTC"},
		{local, "Europe/Erlangen", "zone", `found \"Europe/Erlangen\"; expected a zone`},
		{"", "Europe/Berlin", "zone", "expected recorded work states with it"},
		{local, strings.Repeat("x", 101), "zone", "larger than 100 bytes"},
	} {
		if w := ask("/api/run", c.states, c.zone); w.Code/100 != 4 || !strings.Contains(w.Body.String(), c.says) || !strings.Contains(w.Body.String(), `"file":"`+c.file+`"`) {
			t.Errorf("zone %.20q: status %d: %.300s; expected %q of %s", c.zone, w.Code, w.Body, c.says, c.file)
		}
	}
}

// TestExportEqualsRun: the YAML that the page gives, run from the command
// line, gives the same numbers, bit for bit.
func TestExportEqualsRun(t *testing.T) {
	t.Chdir(t.TempDir())
	h := web.Handler(newTestBench(t).Web())
	for i, set := range []string{
		`{}`,
		`{"speed_kmh": 11.5, "lift_lead_ms": 120, "oil_c": 3, "pump_l_min": 17, "rate_hz": 5}`,
		`{"drop_lead_ms": 500, "flow_aware": false, "valve_dead_ms": 85, "latency_ms": 240, "latency_told_ms": 60, "noise_cm": 3.3}`,
		`{"tool_m": 4.35, "antenna_wrong_cm": -17, "headland_deg": 33, "section_m": 1.5, "edge_rule": "weed-first", "work_headland": true, "seed": 77}`,
	} {
		answer := askPage(h, "POST", "/api/run", "application/json", strings.NewReader(set))
		var page struct {
			Query   string
			Summary json.RawMessage
		}
		if err := json.Unmarshal(answer.Body.Bytes(), &page); err != nil || answer.Code != 200 {
			t.Fatalf("%s: status %d, %v: %.300s", set, answer.Code, err, answer.Body)
		}
		text := askPage(h, "GET", "/api/setting.yaml?"+page.Query, "", nil)
		file := fmt.Sprintf("setting%d.yaml", i)
		if err := os.WriteFile(file, text.Body.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		if status, _, stderr := command("", "run", "--out", "out", file); status != 0 {
			t.Fatalf("%s: exit status %d, %s\n%.2000s", set, status, stderr, text.Body)
		}
		want, err := os.ReadFile("out/summary.json")
		if err != nil {
			t.Fatal(err)
		}
		if got := string(page.Summary); got != strings.TrimSpace(string(want)) {
			t.Errorf("%s: the page and run differ:\n%s\n%s", set, got, want)
		}
		csv := askPage(h, "GET", "/api/events.csv?"+page.Query, "", nil)
		if want, _ := os.ReadFile("out/events.csv"); !bytes.Equal(csv.Body.Bytes(), want) {
			t.Errorf("%s: events.csv of the page and of run differ", set)
		}
		for asked, lang := range map[string]string{"": "en", "de-AT,de;q=0.9,en;q=0.8": "de", "fr": "fr"} {
			r := httptest.NewRequest("GET", "/api/report.html?"+page.Query, nil)
			r.Header.Set("Accept-Language", asked)
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			if !strings.Contains(w.Body.String(), `<html lang="`+lang+`">`) || !strings.Contains(strings.Join(w.Header().Values("Vary"), ","), "Accept-Language") {
				t.Errorf("%q: %.200s; want a report in %s", asked, w.Body, lang)
			}
		}
	}
}

// TestUpload: the asker's own files in place of the demo's, and what is said
// of bad ones.
func TestUpload(t *testing.T) {
	t.Chdir(t.TempDir())
	scratch := t.TempDir()
	t.Setenv("TMPDIR", scratch)
	if status, _, stderr := command("", "drive", "--out", "day.nmea.gz"); status != 0 {
		t.Fatal(stderr)
	}
	packed, err := os.ReadFile("day.nmea.gz")
	if err != nil {
		t.Fatal(err)
	}
	machine, land := demoText(t, "machine.yaml"), demoText(t, "field.geojson")
	badMachine, line := edit(t, machine, "count: 12", "count: twelve")
	h := web.Handler(newTestBench(t).Web())
	for _, c := range []struct {
		name  string
		set   string
		files [][3]string
		want  int
		says  string
	}{
		{"machine, field and log", "", [][3]string{{"machine", "hoe.yaml", machine}, {"field", "beets.geojson", land}, {"log", "day.nmea.gz", string(packed)}}, 200, `"title":"day.nmea.gz"`},
		{"another controller", `{"lift_lead_ms":0}`, [][3]string{{"field", "beets.geojson", land}, {"log", "day.nmea.gz", string(packed)}}, 200, `"fixed":["speed_kmh"`},
		{"field alone", `{"speed_kmh":10}`, [][3]string{{"field", "beets.geojson", land}}, 200, `"fixed":["headland_deg"]`},
		{"bad machine", "", [][3]string{{"machine", "hoe.yaml", badMachine}}, 400,
			fmt.Sprintf(`{"error":"hoe.yaml:%d:10: rows.count: found \"twelve\"; expected a whole number from 1 to 1024","file":"machine","line":%d,"col":10}`, line, line)},
		{"bad field", "", [][3]string{{"field", "a/b/beets.geojson", `{"type": "Point"}`}}, 400, `"file":"field"`},
		{"empty log", "", [][3]string{{"field", "beets.geojson", land}, {"log", "day.nmea", ""}}, 400, `"file":"log"`},
		{"log of another place", "", [][3]string{{"log", "day.nmea", "$GPGGA,101010.00,4800.000,N,01100.000,E,4,12,0.7,100,M,45,M,,*50\r\n"}}, 400, `"file":"log"`},
		{"states alone", "", [][3]string{{"states", "states.csv", "time,section,actual\n"}}, 400, `"file":"states"`},
		{"unknown part", "", [][3]string{{"virus", "x", "y"}}, 400, `unknown part \"virus\"`},
		{"twice", "", [][3]string{{"field", "a", land}, {"field", "b", land}}, 400, `comes twice`},
		{"setting that is none", `{"speed_kmh":900}`, [][3]string{{"field", "a", land}}, 400, `"key":"speed_kmh"`},
		{"larger than a machine", "", [][3]string{{"machine", "hoe.yaml", strings.Repeat("#", 1<<20+1)}}, 413, `"file":"machine"`},
		{"a drive without end", `{"speed_kmh":1}`, [][3]string{{"field", "land.geojson", `{"type":"Polygon","coordinates":[[[11,52],[11.1,52],[11.1,52.1],[11,52.1],[11,52]]]}`}}, 400, "of driving; the page takes"},
	} {
		contentType, body := form(t, c.set, c.files...)
		w := askPage(h, "POST", "/api/run", contentType, body)
		if w.Code != c.want || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s: status %d, %.400s; want %d, %s", c.name, w.Code, w.Body, c.want, c.says)
		}
	}
	left, err := os.ReadDir(".")
	if err != nil || len(left) != 1 {
		t.Errorf("%v left behind, %v; want the log alone", left, err)
	}
	if left, err := os.ReadDir(scratch); err != nil || len(left) != 0 {
		t.Errorf("%v left behind in the folder for scratch, %v", left, err)
	}
}

// TestLogThatUnpacksForEver: a small gzip of gigabytes ends in an error.
func TestLogThatUnpacksForEver(t *testing.T) {
	// A gzip file may be several, one after another.
	var member bytes.Buffer
	z := gzip.NewWriter(&member)
	z.Write(make([]byte, 1<<20))
	z.Close()
	packed := strings.Repeat(member.String(), page.MaxLogBytes>>20+2)
	h := web.Handler(newTestBench(t).Web())
	contentType, body := form(t, "", [3]string{"log", "bomb.gz", packed})
	w := askPage(h, "POST", "/api/run", contentType, body)
	if w.Code != 400 || !strings.Contains(w.Body.String(), "unpacks to more than") {
		t.Errorf("status %d, %.300s", w.Code, w.Body)
	}
}

// TestLogPackedTwice: gzip inside gzip is refused before it is unpacked twice. A
// gigabyte of zeros packed twice is a few kilobytes.
func TestLogPackedTwice(t *testing.T) {
	pack := func(data []byte) []byte {
		var out bytes.Buffer
		z := gzip.NewWriter(&out)
		z.Write(data)
		z.Close()
		return out.Bytes()
	}
	packed := string(pack(pack(make([]byte, 64<<20))))
	contentType, body := form(t, "", [3]string{"log", "twice.gz", packed})
	w := askPage(web.Handler(newTestBench(t).Web()), "POST", "/api/run", contentType, body)
	if w.Code != 400 || !strings.Contains(w.Body.String(), "gzip data inside gzip data") {
		t.Errorf("%d bytes: status %d, %.300s", len(packed), w.Code, w.Body)
	}
}

// TestPageNumbersAreDeterministic: the same question, the same bytes, and the
// order of a setting's keys does not matter.
func TestPageNumbersAreDeterministic(t *testing.T) {
	a := askPage(web.Handler(newTestBench(t).Web()), "POST", "/api/run", "application/json", strings.NewReader(`{"speed_kmh":9,"oil_c":20}`))
	b := askPage(web.Handler(newTestBench(t).Web()), "POST", "/api/run", "application/json", strings.NewReader(`{"oil_c":20,"speed_kmh":9}`))
	if a.Code != 200 || !bytes.Equal(a.Body.Bytes(), b.Body.Bytes()) {
		t.Errorf("status %d; two servers answer differently", a.Code)
	}
}

// TestWorkStopsWithTheAsker: a drive that nobody waits for any more is not
// driven to its end.
func TestWorkStopsWithTheAsker(t *testing.T) {
	_, lines := strayLog(t)
	machine, err := os.ReadFile("machine.yaml")
	if err != nil {
		t.Fatal(err)
	}
	field, err := os.ReadFile("field.geojson")
	if err != nil {
		t.Fatal(err)
	}
	day := strings.Repeat(strings.Join(lines, ""), 3) // 20 MB: a second's work and more
	kind, body := form(t, "", [3]string{"machine", "machine.yaml", string(machine)}, [3]string{"field", "field.geojson", string(field)}, [3]string{"log", "day.nmea", day})
	b := newTestBench(t).Web()
	began, ended := make(chan struct{}), make(chan error, 1)
	run := b.Run
	b.Run = func(ctx context.Context, a *web.Ask) (*web.Drive, error) {
		close(began)
		d, err := run(ctx, a)
		ended <- err
		return d, err
	}
	s := httptest.NewServer(web.Handler(b))
	defer s.Close()
	ctx, leave := context.WithCancel(t.Context())
	go func() {
		<-began
		leave()
	}()
	r, err := http.NewRequestWithContext(ctx, "POST", s.URL+"/api/run", body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	if resp, err := http.DefaultClient.Do(r); err == nil {
		resp.Body.Close()
		t.Fatal("it was answered before the asker left")
	}
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("the drive ended with %v; want that nobody asks any more", err)
	}
}

// TestLinkHoldsTheSetting: every control survives the way through a link.
func TestLinkHoldsTheSetting(t *testing.T) {
	b := newTestBench(t)
	set := map[string]any{"speed_kmh": 9.5, "lift_lead_ms": 210.0, "flow_aware": false, "edge_rule": "crop-first", "section_m": 2.0, "seed": 5.0}
	var controls []web.Control
	for i := range b.Controls {
		controls = append(controls, b.Controls[i].Control)
	}
	link := web.Query(controls, set)
	if want := "v=1&speed_kmh=9.5&lift_lead_ms=210&flow_aware=false&section_m=2&edge_rule=crop-first&seed=5"; link != want {
		t.Errorf("link %s; want %s", link, want)
	}
	if _, err := url.ParseQuery(link); err != nil {
		t.Error(err)
	}
	w := askPage(web.Handler(b.Web()), "GET", "/api/setting.yaml?"+link, "", nil)
	for _, want := range []string{"speed_kmh: 9.5\n", "lift_lead: 210\n", "flow_aware: false\n", "edge_rule: \"crop-first\"\n", "sections: 3\n", "seed: 5\n"} {
		if !strings.Contains(w.Body.String(), want) {
			t.Errorf("the setting's YAML does not hold %q", want)
		}
	}
}

// TestEveryControlTurnsSomething: a control away from its default changes the
// drive's numbers.
func TestEveryControlTurnsSomething(t *testing.T) {
	b := newTestBench(t)
	base := func(set map[string]any) string {
		d, err := b.Run(context.Background(), &web.Ask{Set: set})
		if err != nil {
			t.Fatalf("%v: %v", set, err)
		}
		return string(d.Summary)
	}
	still := base(map[string]any{})
	for _, c := range b.Controls {
		var v any
		with := map[string]any{}
		switch c.Kind {
		case web.Word:
			v = c.Words[0]
		case web.Switch:
			v = !c.Default.(bool)
			if c.Key == "flow_aware" {
				with["pump_l_min"] = 10.0
			}
		case web.Choice:
			v = c.Choices[len(c.Choices)-1]
		default:
			v = c.Min + (c.Max-c.Min)/4
		}
		before := still
		if len(with) > 0 {
			before = base(with)
		}
		if c.Key == "pump_l_min" {
			v = 10.0
		}
		// With leads on auto a change of the hydraulics is made up for in part
		// only by what is left over.
		with[c.Key] = v
		if base(with) == before {
			t.Errorf("%s = %v changes no number", c.Key, v)
		}
	}
}

func TestServeScenario(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := settings.WriteDemo("."); err != nil {
		t.Fatal(err)
	}
	b, err := page.New(&settings.Selection{Arg: "scenario.yaml"})
	if err != nil {
		t.Fatal(err)
	}
	w := askPage(web.Handler(b.Web()), "POST", "/api/run", "application/json", strings.NewReader(`{"speed_kmh":8}`))
	if w.Code != 200 || !strings.Contains(w.Body.String(), `"title":"Quillmark, second hoeing"`) || !strings.Contains(w.Body.String(), `"headland_deg"`) {
		t.Errorf("status %d, %.300s", w.Code, w.Body)
	}
}

func TestServeCommandLine(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"serve --http nowhere", `--http: HTTP address "nowhere"; expected HOST:PORT, like 127.0.0.1:9456`},
		{"serve --http 0.0.0.0:0 --http-token-file none", "none: no such file; expected a file with the HTTP token"},
		{"serve log.nmea", "log.nmea is no scenario file"},
		{"serve none.yaml", "none.yaml: no such file"},
	} {
		status, stdout, stderr := command("", strings.Fields(c.args)...)
		if status != 2 || stdout != "" || !strings.HasPrefix(stderr, "liftbench: "+c.want) {
			t.Errorf("%s: exit status %d, %q, want %q", c.args, status, stderr, c.want)
		}
	}
}

// Beyond loopback serve lets in whom it gave the address to, a phone's browser, and nobody else; the room
// for readings with a tape may run its own script and load nothing.
func TestServeBeyondLoopback(t *testing.T) {
	b := web.Bench{}
	b.Measure.Text, b.Measure.Policy = tapecommand.Page()
	said := startPageAt(t, "0.0.0.0:0", b)
	var address string
	for _, line := range strings.Split(said, "\n") {
		if address == "" && strings.HasPrefix(line, "http://") {
			address = line
		}
	}
	if address == "" {
		t.Skipf("this machine has no address but loopback: %s", said)
	}
	for _, want := range []string{"█", "nothing is encrypted", "Nobody stands at the flag line"} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in\n%s", want, said)
		}
	}
	plain, _, _ := strings.Cut(address, "?")
	for _, wrong := range []string{plain, plain + "?token=ABCDEFGHIJKLMNOPQRSTUVWXYZ"} {
		resp, err := http.Get(wrong)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != http.StatusUnauthorized {
			t.Errorf("%s: status %d; want 401", wrong, resp.StatusCode)
		}
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := (&http.Client{Jar: jar}).Get(address)
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(resp.Body)
	resp.Body.Close()
	if err != nil || resp.StatusCode != 200 || resp.Request.URL.RawQuery != "" || !bytes.Contains(page, []byte("Measure the section lift")) {
		t.Errorf("status %d at %s, %v, %.80s", resp.StatusCode, resp.Request.URL, err, page)
	}
	if policy := resp.Header.Get("Content-Security-Policy"); !strings.HasPrefix(policy, "default-src 'none'; script-src 'sha256-") || strings.Contains(policy, "unsafe") || !strings.Contains(policy, "frame-ancestors 'none'") {
		t.Errorf("policy %q", policy)
	}
}

// startPage serves the page on a free port until the test ends.
func startPage(t testing.TB, b web.Bench) (address string) {
	t.Helper()
	return startPageAt(t, "127.0.0.1:0", b)
}

// startPageAt serves the page at an address until the test ends, and returns what it says.
func startPageAt(t testing.TB, at string, b web.Bench) (said string) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	out, in := io.Pipe()
	ended := make(chan error, 1)
	go func() {
		err := servePage(ctx, at, "", b, in, false)
		in.CloseWithError(err)
		ended <- err
	}()
	t.Cleanup(func() {
		stop()
		select {
		case err := <-ended:
			if err != nil {
				t.Error(err)
			}
		case <-time.After(10 * time.Second):
			t.Error("the server does not end")
		}
	})
	var line [16 << 10]byte
	n, err := out.Read(line[:])
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(line[:n]))
}

// TestServe: over a socket, behind the guard.
func TestServe(t *testing.T) {
	address := startPage(t, newTestBench(t).Web())
	resp, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(resp.Body)
	resp.Body.Close()
	if err != nil || resp.StatusCode != 200 || !bytes.Contains(page, []byte("<html")) {
		t.Errorf("status %d, %v, %.80s", resp.StatusCode, err, page)
	}
	r, err := http.NewRequest("POST", address+"api/run", strings.NewReader("{}"))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Origin", "http://elsewhere.example")
	if resp, err = http.DefaultClient.Do(r); err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusForbidden {
		t.Errorf("another site's question is answered with status %d", resp.StatusCode)
	}
	// An upload beyond the guard's usual megabyte gets through to the field's
	// own check.
	contentType, body := form(t, "", [3]string{"field", "f.geojson", `{"type":"Point"` + strings.Repeat(" ", 3<<20) + "}"})
	if resp, err = http.Post(address+"api/run", contentType, body); err != nil {
		t.Fatal(err)
	}
	text, _ := io.ReadAll(resp.Body)
	resp.Body.Close()
	if resp.StatusCode != 400 || !bytes.Contains(text, []byte(`"file":"field"`)) {
		t.Errorf("status %d, %.200s", resp.StatusCode, text)
	}
}

// TestServeKeepsToItself: over a socket, what is asked by another name, from
// outside the page's files, or beyond the limits gets nothing, and every answer
// says that only the page's own files may run in it.
func TestServeKeepsToItself(t *testing.T) {
	address := startPage(t, newTestBench(t).Web())
	addr := strings.TrimSuffix(strings.TrimPrefix(address, "http://"), "/")
	send := func(request string) (status int, head http.Header, body string) {
		t.Helper()
		c, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		go io.WriteString(c, request) // the answer may come before all is sent
		resp, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err != nil {
			t.Fatalf("%.80q: %v", request, err)
		}
		defer resp.Body.Close()
		text, _ := io.ReadAll(resp.Body) // cut off where the server closes early
		return resp.StatusCode, resp.Header, string(text)
	}
	for _, host := range []string{"evil.example", "evil.example:80", "127.0.0.1.evil.example", "", "localhost.evil.example"} {
		if status, _, body := send("GET / HTTP/1.1\r\nHost: " + host + "\r\nConnection: close\r\n\r\n"); status != http.StatusMisdirectedRequest && status != http.StatusBadRequest || strings.Contains(body, "<html") {
			t.Errorf("as %q: status %d, %.80s", host, status, body)
		}
	}
	get := func(target string) (int, http.Header, string) {
		t.Helper()
		return send("GET " + target + " HTTP/1.1\r\nHost: " + addr + "\r\nConnection: close\r\n\r\n")
	}
	for _, target := range []string{
		"/../web.go", "/../../../../../../etc/passwd", "/%2e%2e/web.go", "/%2e%2e%2f%2e%2e%2fetc%2fpasswd", "/..%2fweb.go", "/..%5cweb.go", `/..\web.go`, "//etc/passwd",
		"/style.css/../../web.go", "/style.css%00.js", "/./../web.go", "/.git/config", "/_secret", "/api/../../web.go", "/api/..%2fsetting.yaml", "/page/index.html", "/web.go",
	} {
		status, _, body := get(target)
		if status == 200 || strings.Contains(body, "package web") || strings.Contains(body, "root:") {
			t.Errorf("%s: status %d, %.80s", target, status, body)
		}
	}
	for _, target := range []string{"/", "/app.js", "/api/page", "/api/none", "/none", "/api/report.html?v=1"} {
		_, head, _ := get(target)
		policy := head.Get("Content-Security-Policy")
		if !strings.Contains(policy, "default-src 'none'") || !strings.Contains(policy, "script-src 'self';") || strings.Contains(policy, "unsafe") || head.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: %v", target, head)
		}
	}
	// A body without end is cut off, whatever its length says.
	for _, length := range []string{"Content-Length: 99000000000", "Transfer-Encoding: chunked"} {
		status, _, _ := send("POST /api/run HTTP/1.1\r\nHost: " + addr + "\r\nContent-Type: application/json\r\n" + length + "\r\n\r\n" +
			fmt.Sprintf("%x\r\n", 64<<20) + strings.Repeat(" ", 1<<20))
		if status != http.StatusRequestEntityTooLarge {
			t.Errorf("%s: status %d", length, status)
		}
	}
	if status, _, _ := send("GET / HTTP/1.1\r\nHost: " + addr + "\r\nX: " + strings.Repeat("x", 1<<20) + "\r\n\r\n"); status != http.StatusRequestHeaderFieldsTooLarge {
		t.Errorf("a header of a megabyte: status %d", status)
	}
}

// TestUploadIsDiagnosed: a day with its work states gets the answer that
// liftbench diagnose gives.
func TestUploadIsDiagnosed(t *testing.T) {
	t.Chdir(t.TempDir())
	keepBadDay(t, ".")
	if status, _, stderr := command("", "diagnose", "--out", "cli", "day.yaml"); status != 0 {
		t.Fatal(stderr)
	}
	file := func(name string) string {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	files := [][3]string{{"machine", "machine.yaml", file("machine.yaml")}, {"field", "field.geojson", file("field.geojson")},
		{"log", "day.nmea.gz", file("day.nmea.gz")}, {"states", "day.states.csv", file("day.states.csv")}}
	h := web.Handler(newTestBench(t).Web())
	contentType, body := form(t, "", files...)
	w := askPage(h, "POST", "/api/run", contentType, body)
	var got struct {
		Simulated bool
		Diagnosis json.RawMessage
		Fit       struct{ Lift, Drop diagnose.Fit }
	}
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != 200 {
		t.Fatalf("status %d, %v, %.300s", w.Code, err, w.Body)
	}
	if want := strings.TrimSpace(file("cli/diagnosis.json")); string(got.Diagnosis) != want || got.Simulated {
		t.Errorf("simulated %v; the page and liftbench diagnose differ:\n%.600s\n%.600s", got.Simulated, got.Diagnosis, want)
	}
	// The figure of error over speed draws the diagnosis's own line.
	var d struct{ Lift, Drop diagnose.Fit }
	if err := json.Unmarshal(got.Diagnosis, &d); err != nil || !reflect.DeepEqual(got.Fit, d) || d.Lift.TimeErrorS == nil {
		t.Errorf("%v; the page's line is %+v, the diagnosis's %+v", err, got.Fit, d)
	}
	// Too little to be explained is shown, with the reason.
	head, _, _ := strings.Cut(files[3][2], "\n")
	rows := strings.SplitN(files[3][2], "\n", 4)
	files[3][2] = head + "\n" + rows[1] + "\n"
	contentType, body = form(t, "", files...)
	w = askPage(h, "POST", "/api/run", contentType, body)
	if w.Code != 200 || !strings.Contains(w.Body.String(), "no diagnosis: ") {
		t.Errorf("status %d, %.300s", w.Code, w.Body)
	}
}
