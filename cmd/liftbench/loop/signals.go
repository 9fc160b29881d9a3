// Signals that end a live run, and signals that do not.

package loop

import (
	"context"
	"os/signal"
)

// UntilSignal returns a context that is done when a signal asks the program to
// end, so that what is in work can be lifted first. It holds until stop is
// called.
//
// Signals that would end or suspend the program for a lesser reason are ignored
// meanwhile: SIGPIPE, as a pipe whose reader is gone is an error of that output
// alone, and those by which a terminal suspends a program.
func UntilSignal(parent context.Context) (ctx context.Context, stop func()) {
	signal.Ignore(passedOver...)
	ctx, stopNotify := signal.NotifyContext(parent, ending...)
	return ctx, func() {
		stopNotify()
		signal.Reset(passedOver...)
	}
}
