// This file writes a recording to the disk.

package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"
)

// run writes the queued sentences every tenth of Options.Sync, and syncs the file
// before that time is over.
func (r *Recorder) run() {
	defer close(r.done)
	tick := time.NewTicker(max(r.opt.Sync/10, time.Millisecond))
	defer tick.Stop()
	var spare []byte
	for {
		last := false
		select {
		case <-tick.C:
		case <-r.wake:
			last = true
		}
		batch, n := r.take(spare[:0])
		if n > 0 {
			r.write(batch, n)
		}
		spare = batch
		if last {
			r.end()
			return
		}
		if r.dirty && time.Since(r.synced) >= r.opt.Sync*8/10 {
			r.sync()
		}
	}
}

// take returns the queued sentences and how many they are; those to come are
// queued in empty.
func (r *Recorder) take(empty []byte) (batch []byte, n int64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	batch, n = r.queue, r.queued
	r.queue, r.queued = empty, 0
	return batch, n
}

// write writes whole lines holding n sentences. If the disk becomes full after
// some of the bytes, those are removed again, so that no part of a sentence
// stays in the file.
func (r *Recorder) write(batch []byte, n int64) {
	now := time.Now()
	if r.file != nil && (r.size+int64(len(batch)) > r.opt.MaxBytes && r.size > 0 || now.Sub(r.begun) >= r.opt.MaxAge) {
		r.end()
	}
	if r.file == nil {
		if now.Before(r.retryAt) {
			r.lose(n, nil)
			return
		}
		if err := r.next(batch); err != nil {
			r.retryAt = now.Add(time.Second)
			r.lose(n, err)
			return
		}
	}
	if _, err := r.file.Write(batch); err != nil {
		// If this fails as well, the error of Write is the one to report.
		_ = r.file.Truncate(r.size)
		_, _ = r.file.Seek(r.size, 0)
		r.lose(n, err)
		return
	}
	r.size += int64(len(batch))
	if !r.dirty {
		r.dirty, r.synced = true, now
	}
	r.mu.Lock()
	r.counts.Sentences += n
	if r.err != nil && now.Sub(r.failed) >= steadyAfter {
		r.err = nil
	}
	r.mu.Unlock()
}

// next opens the next file. Its name is the arrival time of the first sentence in
// batch to the second, without - and :, as 20310511T140307.
func (r *Recorder) next(batch []byte) error {
	name := r.prefix + "-"
	for _, c := range batch[:len("2006-01-02T15:04:05")] {
		if c != '-' && c != ':' {
			name += string(c)
		}
	}
	file := name + ".nmea"
	for n := 2; ; n++ {
		f, err := r.create(file)
		if errors.Is(err, fs.ErrExist) {
			file = fmt.Sprintf("%s-%d.nmea", name, n)
			continue
		}
		if err != nil {
			return err
		}
		r.file, r.size, r.begun = f, 0, time.Now()
		r.mu.Lock()
		r.counts.Files++
		r.mu.Unlock()
		return nil
	}
}

// create creates a file and fails if it exists.
func create(name string) (*os.File, error) {
	return os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
}

// end syncs and closes the file.
func (r *Recorder) end() {
	if r.file == nil {
		return
	}
	if r.dirty {
		r.sync()
	}
	if err := r.file.Close(); err != nil {
		r.fail(err)
	}
	r.file = nil
}

func (r *Recorder) sync() {
	r.dirty = false
	if err := r.file.Sync(); err != nil {
		r.fail(err)
	}
}

// lose counts n sentences that were not written, and keeps err for Err.
func (r *Recorder) lose(n int64, err error) {
	r.mu.Lock()
	r.counts.Lost += n
	r.mu.Unlock()
	if err != nil {
		r.fail(err)
	}
}

func (r *Recorder) fail(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.err, r.failed = fmt.Errorf("recording: %w; it goes on when there is room", err), time.Now()
}
