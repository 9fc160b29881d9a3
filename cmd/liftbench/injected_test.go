//go:build linux

// The program with faults built in, which only this build has.

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// injections are the places at which the program built by buildInjected can fail:
// one in each goroutine of live. The fault comes before the text, of which there
// is one in its file.
var injections = []struct{ where, file, before string }{
	{"main loop", "replay/live/engine.go", "	at := e.when.ArrivalNs(f)\n	now := e.clock.nowNs()\n"},
	{"controller", "sections/tick.go", "	if nowNs < c.s.SleepNs {\n"},
	{"ticks", "replay/live/engine.go", "	// Bytes that arrive at this very instant come before its tick.\n"},
	{"reading standard input", "replay/port/local.go", "		n, err := r.Read(buf)\n"},
	{"reading a socket", "replay/port/peer.go", "		n, err := q.conn.Read(buf)\n"},
	{"writing an output", "replay/port/peer.go", "		_, err := q.conn.Write(buf)\n"},
	{"accepting peers", "replay/port/open.go", "			if p.ctx.Err() != nil {\n				if err == nil {\n"},
	{"recording", "replay/record/write.go", "		batch, n := r.take(spare[:0])\n"},
	{"standard error", "cmd/liftbench/terminal/console.go", "		text := \"\"\n"},
	{"status line", "cmd/liftbench/loop/live.go", "	if o.recorder != nil {\n		err := o.recorder.Err()\n"},
	{"metrics", "cmd/liftbench/metrics/counts.go", "	c := k()\n"},
	{"state file", "cmd/liftbench/loop/statefile.go", "		s.note(s.write())\n"},
	{"supervisor", "cmd/liftbench/loop/watchdog.go", "			if well() {\n"},
	{"page", "cmd/liftbench/loop/livepage.go", "	if p.Followers.Load() > 0 {\n"},
	{"answering a request", "cmd/liftbench/loop/shown.go", "		if x := wanting(); x != \"\" {\n"},
}

// injectVariable says which fault the program is to have, as kind:where, and
// injectWhenVariable names a file: the fault comes once it is there.
const injectVariable, injectWhenVariable = "LIFTBENCH_INJECT", "LIFTBENCH_INJECT_WHEN"

const injector = `package crash

import (
	"os"
	"sync"
	"sync/atomic"
)

var injected atomic.Bool

var kept [][]byte

func Inject(where string) {
	kind, ok := map[string]string{
		"once:" + where: "once", "ever:" + where: "ever", "memory:" + where: "memory", "fatal:" + where: "fatal", "hang:" + where: "hang",
	}[os.Getenv("` + injectVariable + `")]
	if !ok {
		return
	}
	if _, err := os.Stat(os.Getenv("` + injectWhenVariable + `")); err != nil {
		return
	}
	switch kind {
	case "memory":
		for {
			b := make([]byte, 64<<20)
			for i := 0; i < len(b); i += 4096 {
				b[i] = 1
			}
			kept = append(kept, b)
		}
	case "fatal": // the runtime ends the program, and no recover prevents it
		new(sync.Mutex).Unlock()
	case "hang":
		select {}
	}
	if injected.CompareAndSwap(false, true) || kind == "ever" {
		panic("injected, " + where)
	}
}
`

// buildInjected builds the program as users build it, with these faults in it.
func buildInjected(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	sources := map[string]string{}
	for _, x := range injections {
		path := filepath.Join(root, x.file)
		if sources[path] == "" {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			sources[path] = string(text)
		}
		if n := strings.Count(sources[path], x.before); n != 1 {
			t.Fatalf("%s: found %d times, expected once: %s", x.file, n, x.before)
		}
		sources[path] = strings.Replace(sources[path], x.before, fmt.Sprintf("crash.Inject(%q)\n", x.where)+x.before, 1)
	}
	overlay := struct{ Replace map[string]string }{map[string]string{}}
	put := func(path, text string) {
		t.Helper()
		as := filepath.Join(dir, strings.ReplaceAll(strings.TrimPrefix(path, root), string(filepath.Separator), "_"))
		if err := os.WriteFile(as, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		overlay.Replace[path] = as
	}
	for path, text := range sources {
		if !strings.Contains(text, `"liftbench/replay/crash"`) {
			text = strings.Replace(text, "import (\n", "import (\n\t\"liftbench/replay/crash\"\n", 1)
		}
		put(path, text)
	}
	put(filepath.Join(root, "replay/crash/injector.go"), injector)
	list, err := json.Marshal(overlay)
	if err != nil {
		t.Fatal(err)
	}
	listed, program := filepath.Join(dir, "overlay.json"), filepath.Join(dir, "liftbench")
	if err := os.WriteFile(listed, list, 0o644); err != nil {
		t.Fatal(err)
	}
	build := exec.Command("go", "build", "-overlay", listed, "-o", program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, bytes.TrimSpace(out))
	}
	return program
}
