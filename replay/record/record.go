// A recording while it is made.

package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// Options of a recording. The zero value takes what stands behind each.
type Options struct {
	MaxBytes int64         // a file that has this many is closed and the next begun; 64 MiB
	MaxAge   time.Duration // likewise one that is this old; 1 h
	Sync     time.Duration // this much is lost at most when the process is killed or the power fails; 1 s
}

const (
	defaultBytes = 64 << 20
	defaultAge   = time.Hour
	defaultSync  = time.Second
	// queueBytes is what may wait for a slow disk: ten minutes of a receiver
	// at 10 Hz.
	queueBytes = 1 << 20
)

// Counts of a recording.
type Counts struct {
	Sentences int64 // written
	Lost      int64 // not written: disk full, folder gone, disk too slow
	Files     int64 // begun
}

// Recorder makes a recording. Add never waits for the disk: another goroutine
// writes. Any method may be called from any goroutine.
type Recorder struct {
	prefix string
	opt    Options
	create func(string) (*os.File, error)

	mu     sync.Mutex
	queue  []byte
	queued int64 // sentences in it
	counts Counts
	err    error
	closed bool

	wake chan struct{}
	done chan struct{}

	// Of the writing goroutine.
	file    *os.File
	size    int64
	begun   time.Time
	synced  time.Time
	dirty   bool
	retryAt time.Time
}

// New starts a recording in files PREFIX-YYYYMMDDThhmmss.nmea, named by the
// UTC of the arrival of their first sentence; where there is such a file
// already, -2, -3 and so on is added. It fails where the folder of prefix is
// not there.
func New(prefix string, opt Options) (*Recorder, error) { return begin(prefix, opt, create) }

// begin is New with another way to make a file.
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
	go r.run()
	return r, nil
}

// Add adds a sentence that arrived at arrivalNs, ns since 1970. sentence may
// be reused at once.
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

// Err returns the first thing that went wrong since it was last asked, nil if
// nothing did. The recording goes on, or goes on trying, once a second.
func (r *Recorder) Err() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	err := r.err
	r.err = nil
	return err
}

// Counts returns what was done so far.
func (r *Recorder) Counts() Counts {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.counts
}

// Close writes what is left, syncs it and ends the recording. It returns what
// Err does.
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
