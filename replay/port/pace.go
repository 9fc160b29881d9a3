// A log handed on at the pace at which it was recorded.

package port

import (
	"context"
	"io"
)

// Play copies the sentences of log to w as a receiver would send them: at
// pace times real time, by the arrival times in the log if it has them
// (they are not sent), else by the times in its sentences. Bytes between
// sentences are left out. It returns at the log's end, or with the context's
// error.
func Play(ctx context.Context, w io.Writer, log io.Reader, pace float64) error { return nil }
