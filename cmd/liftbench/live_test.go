//go:build linux

// The command live: safety words, console, outputs, HTTP and alerts.

package main

import (
	"bytes"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/metrics"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/web"
	"liftbench/replay/port"
	"liftbench/sim/receiver"
)

// TestSafetyWords: on standard error before anything is driven that may move a
// machine, and never otherwise.
func TestSafetyWords(t *testing.T) {
	for _, c := range []struct {
		ports string
		want  bool
	}{
		{"-", false},
		{"file:x", false},
		{"tcp:127.0.0.1:9", false},
		{"tcp-listen::9000 udp:localhost:9", false},
		{"serial:/dev/ttyS0", true},
		{"- tcp:192.0.2.7:9", true},
		{"tcp-listen:0.0.0.0:9", true},
		{"udp:field-pc.example:9", true},
		{"can:can0", true},
	} {
		var specs []port.Spec
		for _, name := range strings.Fields(c.ports) {
			s, err := port.Parse(name)
			if err != nil {
				t.Fatal(err)
			}
			specs = append(specs, s)
		}
		var out bytes.Buffer
		con := terminal.NewConsole(&out)
		loop.Warn(con, specs...)
		con.Finish()
		if got := out.String(); warns(got) != c.want || !c.want && got != "" {
			t.Errorf("%s: %q; want the words: %v", c.ports, got, c.want)
		}
	}
	t.Chdir(t.TempDir())
	if err := os.WriteFile("mute.nmea", []byte("$GPGGA,,,,,,0,,,,,,,,*66\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range []string{
		"live --in file:mute.nmea --out serial:/dev/does-not-exist",
		"live --in file:mute.nmea --out udp:192.0.2.7:9",
	} {
		if _, _, stderr := command("", strings.Fields(args)...); !warns(stderr) {
			t.Errorf("%s: %s", args, stderr)
		}
	}
}

// warns reports whether a text holds them, however it is broken.
func warns(text string) bool {
	return strings.Contains(strings.Join(strings.Fields(text), " "), web.Safety)
}

func TestConsole(t *testing.T) {
	for _, c := range []struct {
		name   string
		status bool
		want   string
	}{
		{"piped", false, "one\ntwo\n"},
		{"terminal", true, "\r\x1b[Kone\n\r\x1b[K10 %\r\x1b[Ktwo\n10 %\r\x1b[K"},
	} {
		var out bytes.Buffer
		con := terminal.NewConsole(io.Discard)
		con.Finish()
		con = &terminal.Console{Status: c.status, Lines: make(chan terminal.ConsoleLine, terminal.ConsoleLines), Done: make(chan struct{})}
		con.Say("one")
		con.Draw("10 %")
		con.Say("two")
		go con.Write(&out)
		con.Finish()
		if out.String() != c.want {
			t.Errorf("%s: %q, want %q", c.name, out.String(), c.want)
		}
	}
}

// A console whose terminal is stuck holds nobody up.
func TestStuckConsole(t *testing.T) {
	r, w := io.Pipe()
	con := terminal.NewConsole(w)
	done := make(chan struct{})
	go func() {
		for range 10 * terminal.ConsoleLines {
			con.Say("x")
		}
		close(done)
	}()
	select {
	case <-done:
	case <-time.After(10 * time.Second):
		t.Fatal("say waits for a terminal that takes nothing")
	}
	r.Close()
	con.Finish()
}

func TestParseOut(t *testing.T) {
	for text, want := range map[string]string{
		"-": "json -", "file:a=b": "json file:a=b", "line=-": "line -", "candump=-": "candump -",
		"tcp:127.0.0.1:9": "line tcp:127.0.0.1:9", "json=tcp:127.0.0.1:9": "json tcp:127.0.0.1:9",
		"serial:/dev/ttyS0?baud=9600": "line serial:/dev/ttyS0?baud=9600&data=8&parity=none&stop=1",
		"can:can0":                    "candump can:can0",
	} {
		o, err := loop.ParseOut(text)
		if got := o.Form.String() + " " + o.Spec.String(); err != nil || got != want {
			t.Errorf("%s: %s, %v; want %s", text, got, err, want)
		}
	}
}

// get asks over HTTP.
func get(t *testing.T, url, token string) (status int, body string) {
	t.Helper()
	r, err := http.NewRequest("GET", url, nil)
	if err != nil {
		t.Fatal(err)
	}
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(text)
}

// TestLiveOverHTTP: well and ready as positions come and go; a real Prometheus
// takes the figures and the alert rules.
func TestLiveOverHTTP(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	s := newStraight(t, 4, "200", "300", 0)
	s.write(t, "token", "0123456789abcdef\n")
	p := start(t, "liftbench", "live", "--machine", s.machine, "--field", s.field, "--in", "tcp-listen:127.0.0.1:"+freePort(t),
		"--out", "file:"+filepath.Join(s.dir, "out.jsonl"), "--http", "0.0.0.0:0", "--http-token-file", filepath.Join(s.dir, "token"))
	const token = "0123456789abcdef"
	addr := "http://127.0.0.1" + p.says("http://[::]", "/metrics")
	if status, _ := get(t, addr+"/metrics", ""); status != http.StatusUnauthorized {
		t.Errorf("/metrics without the token: %d, want 401", status)
	}
	check := func(path string, want int) {
		t.Helper()
		if status, body := get(t, addr+path, token); status != want {
			t.Errorf("%s: %d %s, want %d", path, status, body, want)
		}
	}
	check("/healthz", 200)
	check("/readyz", 503)

	prometheus := startPrometheus(t, s.dir, strings.TrimPrefix(addr, "http://"), token)
	receiverPort := p.cmd.Args[7]
	c := dial(t, strings.TrimPrefix(receiverPort, "tcp-listen:"))
	s = newStraightAgain(s, soon())
	epochs := s.epochs(t, receiver.Params{})
	feed(c, epochs[:40])
	check("/readyz", 200)
	status, text := get(t, addr+"/metrics", token)
	if status != 200 {
		t.Fatal(status, text)
	}
	promtool(t, text, "check", "metrics")
	time.Sleep((maxAgeS + holdS) * 1.2e9)
	check("/readyz", 503)
	check("/healthz", 200)

	// Asked until the next scrape has been.
	for _, q := range []struct{ query, want string }{
		{`liftbench_fail_safe_entries_total{reason="lost-fix"}`, `"1"`},
		{`liftbench_sentences_total{type="GGA"}`, `"40"`},
		{`sum(liftbench_setpoints_total{move="drop"})`, `"4"`},
		{`liftbench_position_lost`, `"1"`},
		{`ALERTS{alertname="PositionLost"}`, `"1"`},
	} {
		answer := ""
		for end := time.Now().Add(15 * time.Second); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
			if _, answer = get(t, prometheus+"/api/v1/query?query="+strings.NewReplacer("{", "%7B", "}", "%7D", `"`, "%22", "=", "%3D").Replace(q.query), ""); strings.Contains(answer, q.want+"]") {
				break
			}
		}
		if !strings.Contains(answer, q.want+"]") {
			t.Errorf("%s: Prometheus says %s, want %s", q.query, answer, q.want)
		}
	}
	if status := p.stop(); status != 0 {
		t.Errorf("exit status %d: %s", status, p.stderr.String())
	}
}

// TestReadyzFrozen: a receiver whose position stands still while speed and course
// go on is not ready, and why is said; it is ready again once the position goes on.
func TestReadyzFrozen(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	s := newStraight(t, 4, "200", "300", 0)
	receiverPort := "127.0.0.1:" + freePort(t)
	p := start(t, "liftbench", "live", "--machine", s.machine, "--field", s.field, "--in", "tcp-listen:"+receiverPort,
		"--out", "file:"+filepath.Join(s.dir, "out.jsonl"), "--http", "127.0.0.1:0")
	addr := "http://127.0.0.1" + p.says("http://127.0.0.1", "/metrics")
	c := dial(t, receiverPort)
	s = newStraightAgain(s, soon())
	still := standStill()
	epochs := s.between(s.epochs(t, receiver.Params{}), 2, 5, func(e *burst) { e.text = respeak(e.text, still) })
	for _, x := range []struct {
		from, to int
		status   int
		body     string
	}{{0, 20, 200, "ok"}, {20, 50, 503, "position lost: frozen-fix"}, {50, 80, 200, "ok"}} {
		feed(c, epochs[x.from:x.to])
		if status, body := get(t, addr+"/readyz", ""); status != x.status || !strings.Contains(body, x.body) {
			t.Errorf("/readyz after %d epochs: %d %s; want %d %s", x.to, status, body, x.status, x.body)
		}
	}
	_, text := get(t, addr+"/metrics", "")
	if m := parseMetrics([]byte(text)); m[`liftbench_fail_safe_entries_total{reason="frozen-fix"}`] != 1 || m["liftbench_position_lost"] != 0 {
		t.Errorf("fail-safes and position lost: %v, %v", m[`liftbench_fail_safe_entries_total{reason="frozen-fix"}`], m["liftbench_position_lost"])
	}
}

// TestLiveOnAFullDisk: control goes on, the failing recording and the state that
// cannot be kept are said once, and /readyz says so.
func TestLiveOnAFullDisk(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	s := newStraight(t, 4, "200", "300", 0)
	small := filepath.Join(s.dir, "small")
	if err := os.Mkdir(small, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=4k"); err != nil {
		outside(t, "a file system of 4 KiB (mount as root: "+err.Error()+")")
	}
	t.Cleanup(func() { syscall.Unmount(small, 0) })
	receiverPort, out := "127.0.0.1:"+freePort(t), filepath.Join(s.dir, "out.jsonl")
	p := start(t, "liftbench", "live", "--machine", s.machine, "--field", s.field, "--in", "tcp-listen:"+receiverPort,
		"--out", "file:"+out, "--http", "127.0.0.1:0", "--record", filepath.Join(small, "day"), "--record-sync", "100ms", "--state", filepath.Join(small, "state"))
	addr := "http://127.0.0.1" + p.says("http://127.0.0.1", "/metrics")
	c := dial(t, receiverPort)
	s = newStraightAgain(s, soon())
	feed(c, s.epochs(t, receiver.Params{})[:60])
	time.Sleep(1200 * time.Millisecond) // twice as long as between two looks
	if status, body := get(t, addr+"/readyz", ""); status != 503 || !strings.Contains(body, "recording: ") || !strings.Contains(body, "no space left on device") || !strings.Contains(body, "state") {
		t.Errorf("/readyz: %d %s", status, body)
	}
	if status := p.stop(); status != 0 {
		t.Errorf("exit status %d", status)
	}
	if said := p.stderr.String(); strings.Count(said, "recording") != 1 || !strings.Contains(said, "no space left on device; it goes on when there is room; control goes on") {
		t.Errorf("said %q; want one line of recording", said)
	}
	if said := p.stderr.String(); strings.Count(said, "cannot be written") != 1 {
		t.Errorf("said %q; want one line of the state", said)
	}
	if data, err := os.ReadFile(out); err != nil || strings.Count(string(data), "\n") < 4 {
		t.Errorf("setpoints %q, %v", data, err)
	}
}

// startPrometheus has a real Prometheus (Debian prometheus) scrape addr each
// 0.5 s by our alerting rules, and returns its own address.
func startPrometheus(t *testing.T, dir, addr, token string) string {
	t.Helper()
	program, err := exec.LookPath("prometheus")
	if err != nil {
		outside(t, "prometheus (Debian prometheus)")
	}
	rules := filepath.Join(dir, "alerts.yaml")
	if status, _, stderr := command("", "live", "--write-alerts", rules); status != 0 {
		t.Fatal(stderr)
	}
	config := filepath.Join(dir, "prometheus.yml")
	if err := os.WriteFile(config, []byte(`global: {scrape_interval: 500ms, evaluation_interval: 500ms}
rule_files: [`+rules+`]
scrape_configs:
  - job_name: liftbench
    authorization: {credentials: `+token+`}
    static_configs: [{targets: ["`+addr+`"]}]
`), 0o644); err != nil {
		t.Fatal(err)
	}
	own := "127.0.0.1:" + freePort(t)
	cmd := exec.Command(program, "--config.file="+config, "--storage.tsdb.path="+filepath.Join(dir, "tsdb"), "--web.listen-address="+own, "--log.level=error")
	var said chunks
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
		if t.Failed() {
			t.Log(said.String())
		}
	})
	return "http://" + own
}

// promtool runs Debian's promtool on a text.
func promtool(t *testing.T, stdin string, args ...string) {
	t.Helper()
	program, err := exec.LookPath("promtool")
	if err != nil {
		outside(t, "promtool (Debian prometheus)")
	}
	cmd := exec.Command(program, args...)
	cmd.Stdin = strings.NewReader(stdin)
	if out, err := cmd.CombinedOutput(); err != nil || stdin != "" && len(out) > 0 {
		t.Errorf("promtool %v: %v: %s", args, err, out)
	}
}

// TestAlertRules: they are well-formed, each goes off when it should, and not
// otherwise.
func TestAlertRules(t *testing.T) {
	written := filepath.Join(t.TempDir(), "alerts.yaml")
	if status, stdout, stderr := command("", "live", "--write-alerts", written); status != 0 || stdout+stderr != "" {
		t.Fatalf("exit status %d, %s%s", status, stdout, stderr)
	}
	promtool(t, "", "check", "rules", written)
	if data, err := os.ReadFile(written); err != nil || !bytes.Equal(data, metrics.Alerts) {
		t.Errorf("%v; what is written is not what is tested", err)
	}
	promtool(t, "", "test", "rules", "metrics/testdata/alerts_test.yaml")
}
