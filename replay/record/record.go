// Package record keeps what arrived: each sentence after the host's time of
// its arrival, in files that are rotated by size and time.
package record

import "errors"

// Options of a recording. The zero value takes the defaults.
type Options struct {
	MaxBytes int64 // a file is closed when it has this many; default 64 MiB
	MaxNs    int64 // or is this old; default 1 h
	SyncNs   int64 // at most this much is lost when the process is killed; default 1 s
}

// Counts of a recording. They may be read at any time.
type Counts struct {
	Sentences int64 // written
	Lost      int64 // not written: disk full, folder gone
	Files     int64
}

// Recorder writes a recording. Its methods are for one goroutine, but Counts.
type Recorder struct{}

// New starts a recording: files PREFIX-YYYYMMDDThhmmss.nmea, named by the
// arrival of their first sentence.
func New(prefix string, opt Options) (*Recorder, error) {
	return nil, errors.New("record: not built yet")
}

// Add adds a sentence that arrived at arrivalNs. It never blocks on the disk
// (a goroutine writes) and reports no error: see Err.
func (r *Recorder) Add(arrivalNs int64, sentence []byte) {}

// Err returns the first error in writing since it was last asked; the
// recording goes on trying.
func (r *Recorder) Err() error { return nil }

// Counts returns what was done so far, from any goroutine.
func (r *Recorder) Counts() Counts { return Counts{} }

// Close writes and syncs what is left.
func (r *Recorder) Close() error { return nil }
