package ports

import (
	"strings"
	"testing"

	"liftbench/replay/port"
	"liftbench/replay/port/lines"
)

// What is printed first on each line is a port that live takes.
func TestWrite(t *testing.T) {
	var stdout, stderr strings.Builder
	err := write(&stdout, &stderr, []lines.Line{
		{Name: "/dev/ttyACM0", Stable: []string{"/dev/serial/by-id/usb-Feldweg_Receiver-if00"}, What: "Feldweg Receiver"},
		{Name: "COM3", What: "USB Serial Port (COM3)"},
		{Name: "COM10"},
	})
	const want = `serial:/dev/serial/by-id/usb-Feldweg_Receiver-if00   Feldweg Receiver, now /dev/ttyACM0
serial:COM3   USB Serial Port (COM3)
serial:COM10
`
	if err != nil || stdout.String() != want || stderr.Len() > 0 {
		t.Errorf("%v\n%s\nwant\n%s%s", err, stdout.String(), want, stderr.String())
	}
	for line := range strings.Lines(stdout.String()) {
		name, _, _ := strings.Cut(strings.TrimSpace(line), "   ")
		if s, err := port.Parse(name); err != nil || s.Kind != port.Serial {
			t.Errorf("%s: %v, %v", name, s, err)
		}
	}
}

// Where there is none, standard output stays empty for scripts, and people are told what to do.
func TestWriteNone(t *testing.T) {
	var stdout, stderr strings.Builder
	if err := write(&stdout, &stderr, nil); err != nil || stdout.Len() > 0 || !strings.Contains(stderr.String(), "Plug in the receiver") {
		t.Errorf("%v, %q, %q", err, stdout.String(), stderr.String())
	}
}
