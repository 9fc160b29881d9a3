// The file that live keeps while it runs, so that a restart after kill -9 lifts
// what was left in work and goes on.

package loop

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/live"
)

const (
	stateEvery = time.Second
	// What is known of worked ground may be large, and no section is in work for lack of
	// it. So it has a file of its own, which is written more rarely, and only after it
	// has changed.
	workedEvery = 10 * time.Second
	workedEnd   = ".worked" // after the state's name
	// mostStateBytes is more than either file takes: 1.3 MB for the most rows.
	mostStateBytes = 4 << 20
)

// stateFile is the file.
type stateFile struct {
	path   string
	engine *live.Engine
	change chan struct{} // holds a value while a change is to be written
	worked []byte        // as its file holds it; nil before the first
	buf    []byte
	next   time.Time // the worked ground is looked at again

	mu  sync.Mutex
	err error // of the last write; nil = the file is as it should be
}

// openState takes up what an earlier run left, says so, and begins a file of this
// run's own. A file that cannot be written, but for a full disk, is an error now,
// and none later.
func openState(c *terminal.Console, path string, e *live.Engine) (*stateFile, error) {
	s := &stateFile{path: path, engine: e, change: make(chan struct{}, 1)}
	text, err := readState(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, failure.Opening(path, "a file for live's state", err)
	default:
		left, err := live.ParseState(text)
		if err == nil {
			// Where it is missing or damaged, Resume says that it does not fit.
			left.Worked, _ = readState(path + workedEnd)
		}
		inWork := "it is not known which sections were in work"
		if err == nil {
			inWork = wording.Counted(len(left.InWork), "section") + " in work"
		}
		resumeErr := e.Resume(&left)
		if err == nil {
			err = resumeErr
		}
		goesOn := "its controller goes on"
		if err != nil {
			goesOn = fmt.Sprintf("the controller begins anew (%v)", err)
		}
		c.Say("%s: the last run was cut off, %s: all are lifted first; %s", path, inWork, goesOn)
	}
	err = s.write()
	if s.note(err); err != nil && !errors.Is(err, syscall.ENOSPC) { // a full disk stops no control
		return nil, err
	}
	return s, nil
}

func readState(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && !info.Mode().IsRegular() {
		return nil, errors.New("no regular file")
	}
	return io.ReadAll(io.LimitReader(f, mostStateBytes))
}

// changed has the file written soon.
func (s *stateFile) changed() {
	select {
	case s.change <- struct{}{}:
	default:
	}
}

// keep writes the file at each change and once a second, until ctx is done.
func (s *stateFile) keep(ctx context.Context) {
	t := time.NewTicker(stateEvery)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		case <-s.change:
		}
		s.note(s.write())
	}
}

func (s *stateFile) note(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.err = err
}

// write replaces the file by a whole one. It is not forced to the disk, once a
// second and more: what a power cut makes of it is at worst a file that cannot be
// read, and then everything is lifted as well.
func (s *stateFile) write() error {
	state := s.engine.State()
	text, err := state.AppendJSON(nil)
	if err != nil {
		return err
	}
	err = replace(s.path, text)
	if now := time.Now(); !now.Before(s.next) {
		s.next = now.Add(workedEvery)
		err = errors.Join(err, s.writeWorked())
	}
	return err
}

// writeWorked writes what is known of worked ground, if that has changed.
func (s *stateFile) writeWorked() error {
	s.buf = s.engine.Worked(s.buf[:0])
	switch {
	case len(s.buf) == 0:
		os.Remove(s.path + workedEnd) // of a run that left worked ground
		return nil
	case bytes.Equal(s.buf, s.worked):
		return nil
	}
	if err := replace(s.path+workedEnd, s.buf); err != nil {
		return err
	}
	s.worked = append(s.worked[:0], s.buf...)
	return nil
}

// replace writes a file anew under another name and renames it: who reads it meets
// the one before, or this one, and no part of either.
func replace(path string, text []byte) error {
	temp := filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+".tmp")
	err := os.WriteFile(temp, text, 0o644)
	if err == nil {
		err = os.Rename(temp, path)
	}
	if err != nil {
		os.Remove(temp)
		return files.WriteError(path, "a file for live's state", err)
	}
	return nil
}

// Err returns why the file is not as it should be, nil if it is.
func (s *stateFile) Err() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.err
}

// remove removes both files: all is lifted, and nothing is left to a next run.
func (s *stateFile) remove() error {
	os.Remove(s.path + workedEnd) // without the state it means nothing
	if err := os.Remove(s.path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return &failure.Input{File: s.path, Msg: fmt.Sprintf("cannot be removed (%v); the next run will take this one for cut off", err), Err: err}
	}
	return nil
}
