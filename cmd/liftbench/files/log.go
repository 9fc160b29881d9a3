// A log that a command reads, and the error about a log without a position.

package files

import (
	"fmt"
	"io"
	"os"
	"syscall"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/nmea/epoch"
)

// Log is a log that is being read, with its progress.
type Log struct {
	Name string
	*terminal.Progress
	file *os.File // nil for standard input
}

// NMEALog names the kind of file for errors.
const NMEALog = "a log of NMEA sentences"

// OpenLog opens a file; "-" is standard input. what names the kind of file for
// errors.
func OpenLog(path, what string, stdin io.Reader, stderr io.Writer) (*Log, error) {
	if path == "-" {
		return &Log{Name: "standard input", Progress: terminal.NewProgress(stdin, 0, "standard input", stderr)}, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, failure.Opening(path, what, err)
	}
	info, err := f.Stat()
	if err == nil && info.IsDir() {
		err = syscall.EISDIR
	}
	if err != nil {
		f.Close()
		return nil, failure.Opening(path, what, err)
	}
	size := int64(0)
	if info.Mode().IsRegular() {
		size = info.Size()
	}
	return &Log{Name: path, Progress: terminal.NewProgress(f, size, path, stderr), file: f}, nil
}

// Close ends the progress and closes the file.
func (l *Log) Close() {
	l.Finish()
	if l.file != nil {
		l.file.Close()
	}
}

// Interrupt ends a read that waits for more, as of a pipe, and those after it.
// Standard input cannot be interrupted.
func (l *Log) Interrupt() {
	if l.file != nil {
		// A regular file knows no deadline, and never makes a read wait.
		_ = l.file.SetReadDeadline(time.Unix(1, 0))
	}
}

// EmptyLog returns the error about a log that holds no position. It says what
// the log holds instead.
func EmptyLog(name string, bytes int64, c *epoch.ReaderCounts, positions int) error {
	switch {
	case positions > 0:
		return nil
	case bytes == 0:
		return &failure.Input{File: name, Msg: "is empty; expected NMEA sentences"}
	case c.OK+c.Unknown+c.BadChecksum+c.Malformed == 0:
		return &failure.Input{File: name, Msg: fmt.Sprintf("no NMEA sentence in %d bytes; expected lines as $GPGGA,...*hh", bytes)}
	case c.Epochs.Fixes == 0:
		return &failure.Input{File: name, Msg: fmt.Sprintf("no position: %s; expected GGA, GNS, RMC or GLL", CountsText(c))}
	}
	return &failure.Input{File: name, Msg: fmt.Sprintf("%s, none with a position: the receiver had no fix", wording.Counted(int(c.Epochs.Fixes), "epoch"))}
}

// CountsText says what a log held and what was dropped, by reason.
func CountsText(c *epoch.ReaderCounts) string {
	text := wording.Counted(int(c.Epochs.Fixes), "epoch") + " from " + wording.Counted(int(c.OK), "sentence")
	for _, d := range []struct {
		n    int64
		what string
	}{
		{c.Unknown, "of other kinds"},
		{c.BadChecksum, "with a bad checksum"},
		{c.Scan.NoChecksum, "without a checksum"},
		{c.Scan.Cut, "cut short"},
		{c.Scan.Overlong, "too long"},
		{c.Malformed - c.Scan.NoChecksum - c.Scan.Cut - c.Scan.Overlong, "with a field that is not valid"},
		{c.Epochs.Untimed, "with a position but no time"},
		{c.Epochs.Duplicates, "epochs repeated"},
		{c.Epochs.OutOfOrder, "times out of order"},
		{c.Epochs.NotBelieved, "times not believed"},
		{c.Epochs.WrongDates, "dates not believed"},
		{c.Epochs.ClockSets, "settings of the receiver's clock"},
		{c.Scan.SkippedBytes, "bytes of something else"},
	} {
		if d.n > 0 {
			text += fmt.Sprintf(", %d %s", d.n, d.what)
		}
	}
	return text
}
