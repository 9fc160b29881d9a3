// A log that a command reads, and what is said of one that holds nothing.

package main

import (
	"fmt"
	"io"
	"os"
	"syscall"

	"liftbench/nmea"
)

// logInput is a log that is being read, with its progress.
type logInput struct {
	name string
	*progress
	file *os.File // nil for standard input
}

// aLog names the kind of file for errors.
const aLog = "a log of NMEA sentences"

// openLog opens a file of the kind that what names; "-" is standard input.
func openLog(path, what string, stdin io.Reader, stderr io.Writer) (*logInput, error) {
	if path == "-" {
		return &logInput{name: "standard input", progress: newProgress(stdin, 0, "standard input", stderr)}, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, openError(path, what, err)
	}
	info, err := f.Stat()
	if err == nil && info.IsDir() {
		err = syscall.EISDIR
	}
	if err != nil {
		f.Close()
		return nil, openError(path, what, err)
	}
	size := int64(0)
	if info.Mode().IsRegular() {
		size = info.Size()
	}
	return &logInput{name: path, progress: newProgress(f, size, path, stderr), file: f}, nil
}

func (l *logInput) close() {
	l.finish()
	if l.file != nil {
		l.file.Close()
	}
}

// emptyLog returns an error when a log holds no position, saying what it holds.
func emptyLog(name string, bytes int64, c *nmea.ReaderCounts, positions int) error {
	switch {
	case positions > 0:
		return nil
	case bytes == 0:
		return &inputError{file: name, msg: "is empty; expected NMEA sentences"}
	case c.OK+c.Unknown+c.BadChecksum+c.Malformed == 0:
		return &inputError{file: name, msg: fmt.Sprintf("no NMEA sentence in %d bytes; expected lines as $GPGGA,...*hh", bytes)}
	case c.Epochs.Fixes == 0:
		return &inputError{file: name, msg: fmt.Sprintf("no position: %s; expected GGA, GNS, RMC or GLL", countsText(c))}
	}
	return &inputError{file: name, msg: fmt.Sprintf("%s, none with a position: the receiver had no fix", counted(int(c.Epochs.Fixes), "epoch"))}
}

// countsText says what a log held and what was dropped, by reason.
func countsText(c *nmea.ReaderCounts) string {
	text := counted(int(c.Epochs.Fixes), "epoch") + " from " + counted(int(c.OK), "sentence")
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
