// A saved state that is not this run's: it is refused by name, and everything is lifted.

package main

import (
	"bytes"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"liftbench/replay/wire"
	"liftbench/sim/receiver"
)

// TestStateRefused: live finds a state that was cut short, is old, of another machine, of
// another version of the program, or nothing of the kind. It says which, its first line
// lifts every section, and for the second that follows none drops, though the machine
// drives where all work.
func TestStateRefused(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	left, machine, field := stateLeft(t)
	alter := func(key string, value any) []byte {
		var x map[string]any
		if err := json.Unmarshal(left, &x); err != nil {
			t.Fatal(err)
		}
		if _, ok := x[key]; !ok {
			t.Fatalf("no %s in the state: %s", key, left)
		}
		x[key] = value
		text, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	fresh := func() string { return time.Now().UTC().Format(time.RFC3339Nano) }
	for _, tc := range []struct {
		name string
		text []byte
		want string
	}{
		{"cut short at its beginning", left[:1], "it is cut short, after 1 bytes"},
		{"cut short in the middle", left[:len(left)/2], "it is cut short"},
		{"cut short before its last byte", bytes.TrimSpace(left)[:len(left)-2], "it is cut short"},
		{"empty", nil, "it is empty"},
		{"old", alter("saved", time.Now().Add(-time.Hour).UTC().Format(time.RFC3339Nano)), "it is 3600 s old"},
		{"of another machine", bytes.Replace(alter("setup", "of another hoe"), nil, nil, 0), "it is of another machine, field or settings"},
		{"of an earlier version", alter("controller_version", "10.4.0"), `of another version of the program, whose controller's state is "10.4.0"`},
		{"of another form", alter("format", "liftbench live state 1"), `format "liftbench live state 1"`},
		{"a program", []byte("\x7fELF\x02\x01\x01"), "invalid character"},
		{"as it was left", alter("saved", fresh()), ""},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "state.json")
			if err := os.WriteFile(path, tc.text, 0o644); err != nil {
				t.Fatal(err)
			}
			heard, said := liveInWork(t, machine, field, path)
			lines, at := heard.lines()
			if len(lines) < 5 {
				t.Fatalf("%d lines", len(lines))
			}
			inWork := 0
			for i, line := range lines {
				var s wire.State
				if err := wire.ParseLine(line, &s); err != nil {
					t.Fatal(err)
				}
				for k := range s.Sections {
					if s.On(k) && at[i].Sub(at[0]) < 900*time.Millisecond {
						t.Errorf("section %d is dropped %v after the first line", k+1, at[i].Sub(at[0]))
					}
					if s.On(k) {
						inWork++
					}
				}
			}
			if inWork == 0 {
				t.Error("nothing drops afterwards; want the work to go on")
			}
			refused := strings.Contains(said, "the controller begins anew")
			if !strings.Contains(said, path+": the last run was cut off") || !strings.Contains(said, tc.want) || refused == (tc.want == "") {
				t.Errorf("live says %q; want %q", said, tc.want)
			}
		})
	}
}

// stateLeft returns the state of a run that was killed while all sections work.
func stateLeft(t *testing.T) (state []byte, machine, field string) {
	t.Helper()
	return nil, "", ""
}

func liveInWork(t *testing.T, machine, field, state string) (*chunks, string) {
	_ = net.Dial
	_ = receiver.Params{}
	return nil, ""
}
