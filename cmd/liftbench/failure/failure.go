// Package failure holds the errors that end a command and the exit status of each: 1
// for a limit that was exceeded, 2 for input or a command line that is wrong.
package failure

import (
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"syscall"
)

// Exit statuses of every command.
const (
	done          = 0 // the job is done and no stated limit is exceeded
	limitExceeded = 1 // a limit stated in the scenario is exceeded
	badInput      = 2 // the input cannot be used, or the output not written
)

// ExitStatus maps the error a command returned to the exit status.
func ExitStatus(err error) int {
	var limits *Limit
	switch {
	case err == nil:
		return done
	case errors.As(err, &limits):
		return limitExceeded
	}
	return badInput
}

// Limit says that a result is beyond a limit stated in the scenario.
type Limit struct {
	Exceeded []string // one sentence a limit, in the order of the scenario's keys
}

func (e *Limit) Error() string {
	if len(e.Exceeded) == 1 {
		return "limit exceeded: " + e.Exceeded[0]
	}
	s := fmt.Sprintf("%d limits exceeded:", len(e.Exceeded))
	for _, x := range e.Exceeded {
		s += "\n  " + x
	}
	return s
}

// Setting is a setting that cannot be used, with its place in its file.
type Setting struct {
	File string
	Line int // from 1; 0 = the whole file
	Col  int // from 1
	Msg  string
}

func (e *Setting) Error() string {
	if e.Line == 0 {
		return named(e.File) + ": " + e.Msg
	}
	return fmt.Sprintf("%s:%d:%d: %s", named(e.File), e.Line, e.Col, e.Msg)
}

// Input is a file that cannot be used as a whole: missing, empty, of the
// wrong kind, or holding nothing of what is asked.
type Input struct {
	File string
	Msg  string
	Err  error // what the system said, if it did
}

func (e *Input) Error() string { return named(e.File) + ": " + e.Msg }

func (e *Input) Unwrap() error { return e.Err }

// named returns a file's name as it stands in an error: in quotes where its text runs on over a line feed, as it may
// in a scenario.
func named(file string) string {
	if strings.ContainsAny(file, "\n\r") {
		return strconv.Quote(file)
	}
	return file
}

// Usage is a command line that asks for something impossible.
type Usage struct{ Msg string }

func (e *Usage) Error() string { return e.Msg }

// Opening says in a sentence why file could not be opened or read as what
// (for example "a machine file").
func Opening(file, what string, err error) error {
	msg := ""
	switch {
	case errors.Is(err, fs.ErrNotExist):
		msg = "no such file; expected " + what
	case errors.Is(err, fs.ErrPermission):
		msg = "not allowed to read it; expected " + what
	case errors.Is(err, syscall.EISDIR):
		msg = "is a directory; expected " + what
	default:
		var pathErr *fs.PathError
		if errors.As(err, &pathErr) {
			err = pathErr.Err
		}
		msg = fmt.Sprintf("cannot be read (%v); expected %s", err, what)
	}
	return &Input{File: file, Msg: msg, Err: err}
}
