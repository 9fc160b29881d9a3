// Errors the commands end with, and the one place that turns them into the
// exit status.

package main

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"
)

// Exit statuses of every command.
const (
	statusDone     = 0 // the job is done and no stated limit is exceeded
	statusLimit    = 1 // a limit stated in the scenario is exceeded
	statusBadInput = 2 // the input cannot be used, or the output not written
)

// exitStatus maps the error a command returned to the exit status.
func exitStatus(err error) int {
	var limits *limitError
	switch {
	case err == nil:
		return statusDone
	case errors.As(err, &limits):
		return statusLimit
	}
	return statusBadInput
}

// limitError says that a result is beyond a limit stated in the scenario.
type limitError struct {
	exceeded []string // one sentence a limit, in the order of the scenario's keys
}

func (e *limitError) Error() string {
	if len(e.exceeded) == 1 {
		return "limit exceeded: " + e.exceeded[0]
	}
	s := fmt.Sprintf("%d limits exceeded:", len(e.exceeded))
	for _, x := range e.exceeded {
		s += "\n  " + x
	}
	return s
}

// configError is a setting that cannot be used, with its place in its file.
type configError struct {
	file string
	line int // from 1; 0 = the whole file
	col  int // from 1
	msg  string
}

func (e *configError) Error() string {
	if e.line == 0 {
		return e.file + ": " + e.msg
	}
	return fmt.Sprintf("%s:%d:%d: %s", e.file, e.line, e.col, e.msg)
}

// inputError is a file that cannot be used as a whole: missing, empty, of the
// wrong kind, or holding nothing of what is asked.
type inputError struct {
	file string
	msg  string
	err  error // what the system said, if it did
}

func (e *inputError) Error() string { return e.file + ": " + e.msg }

func (e *inputError) Unwrap() error { return e.err }

// usageError is a command line that asks for something impossible.
type usageError struct{ msg string }

func (e *usageError) Error() string { return e.msg }

// openError says in a sentence why file could not be opened or read as what
// (for example "a machine file").
func openError(file, what string, err error) error {
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
	return &inputError{file: file, msg: msg, err: err}
}
