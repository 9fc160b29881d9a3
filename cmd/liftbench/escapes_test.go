//go:build linux

// Escape codes in names, on a terminal.

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestNoEscapeCodesOnATerminal: what names of files and names in files hold is
// shown, and not obeyed.
func TestNoEscapeCodesOnATerminal(t *testing.T) {
	dir, lines := strayLog(t)
	const code = "\x1b]0;owned\a\x1b[2J"
	bad := "day" + code + ".nmea"
	field, err := os.ReadFile("field.geojson")
	if err != nil {
		t.Fatal(err)
	}
	machine, err := os.ReadFile("machine.yaml")
	if err != nil {
		t.Fatal(err)
	}
	named := strings.Replace(string(field), `"name": "`, `"name": "\u001b]0;owned\u0007\u001b[2J`, 1)
	if named == string(field) {
		t.Fatal("the demo's field has no name to change")
	}
	for name, text := range map[string]string{
		bad:             strings.Join(lines, ""),
		"field.geojson": named,
		"named.yaml":    strings.Replace(string(machine), "name: ", `name: "\e[2J" #`, 1),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	files := []string{"--machine", "machine.yaml", "--field", "field.geojson"}
	for _, c := range []struct {
		args []string
		want string
	}{
		{append([]string{"run"}, append(files, bad)...), `day\x1b]0;owned\x07\x1b[2J.nmea`},
		{[]string{"fixes", bad}, `day\x1b]0;owned\x07\x1b[2J.nmea: `},
		{append([]string{"run"}, append(files, "none"+code)...), `none\x1b]0;owned\x07\x1b[2J: no such file`},
		{append([]string{"run", "--leave", "x" + code}, append(files, bad)...), `to leave; expected body, headland or`},
		{append([]string{"live", "--in", "file:" + bad, "--pace", "1e6", "--out", "line=-"}, files...), ""},
		{[]string{"check", "--machine", "named.yaml"}, `with the control character U+001B; expected text on one line`},
		{[]string{"check" + code}, `unknown command`},
	} {
		line := newSerialLine(t, filepath.Join(t.TempDir(), "tty"))
		near, err := os.OpenFile(line.name, os.O_RDWR, 0)
		if err != nil {
			t.Fatal(err)
		}
		said := make(chan string)
		go func() {
			var all strings.Builder
			buf := make([]byte, 1<<16)
			for {
				n, err := line.end().Read(buf)
				all.Write(buf[:n])
				if err != nil {
					said <- all.String()
					return
				}
			}
		}()
		cmd := exec.Command(os.Args[0], c.args...)
		cmd.Env = append(os.Environ(), asVariable+"=liftbench")
		cmd.Stdout, cmd.Stderr = near, near
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait() // most end with an error
		near.Close()
		var text string
		select {
		case text = <-said: // the last near end is closed
		case <-time.After(10 * time.Second):
			t.Fatal("the terminal was not let go")
		}
		shown := strings.ReplaceAll(text, "\r\x1b[K", "")
		if strings.ContainsAny(shown, "\x1b\a") || !strings.Contains(strings.Join(strings.Fields(shown), " "), c.want) {
			t.Errorf("%q: the terminal got %.3000q; want %q in it", c.args, text, c.want)
		}
	}
}
