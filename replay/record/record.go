// This file is the part of Recorder that callers use.

package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"liftbench/replay/crash"
)

// Options of a recording. A field that is 0 has the default given beside it.
type Options struct {
	MaxBytes int64         // size at which a file is closed and the next begins; default 64 MiB
	MaxAge   time.Duration // age at which a file is closed and the next begins; default 1 h
	Sync     time.Duration // time of recording that a power cut or a killed process may lose; default 1 s
}

const (
	defaultBytes = 64 << 20
	defaultAge   = time.Hour
	defaultSync  = time.Second
	// queueBytes is how much can wait for a slow disk: about ten minutes of a
	// receiver at 10 Hz.
	queueBytes = 1 << 20
)

// Counts of a recording.
type Counts struct {
	Sentences int64 // sentences written
	Lost      int64 // sentences not written: the disk was full or too slow, or the folder was gone
	Files     int64 // files begun
}

// Recorder makes a recording. Add never waits for the disk, because another
// goroutine writes. Any goroutine may call its methods.
type Recorder struct {
	prefix string
	opt    Options
	create func(string) (*os.File, error)

	mu     sync.Mutex
	queue  []byte
	queued int64 // sentences in queue
	counts Counts
	err    error     // of the last failure; nil = sentences are kept
	failed time.Time // when
	closed bool

	wake chan struct{}
	done chan struct{}

	// Used by the writing goroutine alone.
	file    *os.File  // nil when none is open
	size    int64     // bytes in file
	begun   time.Time // when file was opened
	synced  time.Time // when dirty was set
	dirty   bool      // file has bytes that are not synced
	retryAt time.Time // no file is opened before this time, after an error
}

// New starts a recording in files named PREFIX-YYYYMMDDThhmmss.nmea, after the
// arrival of their first sentence in UTC. If a file has this name already, -2,
// -3 and so on is added. New fails if the folder of prefix does not exist.
func New(prefix string, opt Options) (*Recorder, error) { return begin(prefix, opt, create) }

// begin is New with a given function that creates a file, so that tests can make
// it fail.
func begin(prefix string, opt Options, create func(string) (*os.File, error)) (*Recorder, error) {
	if opt.MaxBytes == 0 {
		opt.MaxBytes = defaultBytes
	}
	if opt.MaxAge == 0 {
		opt.MaxAge = defaultAge
	}
	if opt.Sync == 0 {
		opt.Sync = defaultSync
	}
	if opt.MaxBytes < 0 || opt.MaxAge < 0 || opt.Sync < 0 {
		return nil, errors.New("a recording's size, age and sync interval; expected more than 0")
	}
	dir := filepath.Dir(prefix)
	info, err := os.Stat(dir)
	if err == nil && !info.IsDir() {
		err = errors.New("not a folder")
	}
	if err != nil {
		var system *fs.PathError
		if errors.As(err, &system) {
			err = system.Err
		}
		return nil, fmt.Errorf("folder %s: %w; expected one that is there", dir, err)
	}
	r := &Recorder{
		prefix: prefix, opt: opt, create: create,
		queue: make([]byte, 0, 64<<10),
		wake:  make(chan struct{}, 1), done: make(chan struct{}),
	}
	go crash.Guard(r.run)()
	return r, nil
}

// Add records a sentence, without its line end, that arrived at arrivalNs, UTC in
// ns since 1970. sentence may be reused at once.
func (r *Recorder) Add(arrivalNs int64, sentence []byte) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed || len(r.queue)+len(sentence) > queueBytes {
		r.counts.Lost++
		return
	}
	r.queue = time.Unix(0, arrivalNs).UTC().AppendFormat(r.queue, "2006-01-02T15:04:05.000000000Z ")
	r.queue = append(r.queue, sentence...)
	r.queue = append(r.queue, '\r', '\n')
	r.queued++
}

// steadyAfter is how long nothing may fail until a recording counts as kept
// again: on a disk that is nearly full, short batches go through between long
// ones that do not.
const steadyAfter = 10 * time.Second

// Err returns why sentences are not kept at present, nil if they are. After an
// error the recording continues, and if no file could be opened, it tries again
// once a second; Err is nil again once sentences were written and nothing has
// failed for ten seconds.
func (r *Recorder) Err() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.err
}

// Counts returns what the recording did so far.
func (r *Recorder) Counts() Counts {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.counts
}

// Close writes and syncs the remaining sentences, closes the file, and returns
// the result of Err.
func (r *Recorder) Close() error {
	r.mu.Lock()
	if !r.closed {
		r.closed = true
		close(r.wake)
	}
	r.mu.Unlock()
	<-r.done
	return r.Err()
}
