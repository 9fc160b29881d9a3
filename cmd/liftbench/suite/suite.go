// The suite run: each drive by itself, several at once, none that fails ends the
// others.

package suite

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"sync"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/replay/crash"
)

// Runner runs drives.
type Runner struct {
	// Bench has the checked flags of the controller under test; nil = ours.
	Bench *loop.Bench
	// Seed is added to that of each drive.
	Seed uint64
	// Change changes the setup of each drive for our controller; nil = nothing does.
	Change func(*settings.Setup)
}

// Run runs the drives and returns a result for each, in their order. It fails only
// where ctx is done or the drives cannot be read.
func (x *Runner) Run(ctx context.Context, drives []Drive, stderr io.Writer) ([]Result, error) {
	dir := ""
	if x.Bench != nil && x.Bench.Exec != "" {
		var err error
		if dir, err = os.MkdirTemp("", "liftbench-suite"); err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		if err := extract(dir); err != nil {
			return nil, err
		}
	}
	console := terminal.NewConsole(stderr)
	defer console.Finish()
	workers := min(runtime.GOMAXPROCS(0), len(drives))
	if x.Bench != nil && x.Bench.To != "" {
		workers = 1 // one controller on one port
	}
	results := make([]Result, len(drives))
	failed := make([]error, len(drives))
	// The longest drives come last in the list: they begin first.
	next, done := len(drives), 0
	var mu sync.Mutex
	var work sync.WaitGroup
	for range workers {
		work.Go(crash.Guard(func() {
			for {
				mu.Lock()
				next--
				i := next
				mu.Unlock()
				if i < 0 || ctx.Err() != nil {
					return
				}
				results[i], failed[i] = x.one(ctx, &drives[i], dir)
				mu.Lock()
				done++
				console.Draw(fmt.Sprintf("%d of %d drives", done, len(drives)))
				mu.Unlock()
			}
		}))
	}
	work.Wait()
	if ctx.Err() != nil {
		return nil, &failure.Usage{Msg: "interrupted: the suite was not run to its end, so nothing is written"}
	}
	return results, errors.Join(failed...)
}

// one runs one drive. The error says that the drive itself cannot be used.
func (x *Runner) one(ctx context.Context, d *Drive, dir string) (r Result, err error) {
	o, said, u, err := x.drive(ctx, d, dir)
	r = Result{Name: d.Name, Class: d.Class, stderr: said, FailSafeMs: noFailSafe}
	if u == nil {
		return r, err
	}
	r.Title = u.Title
	if err != nil {
		r.Failed = err.Error()
		var of *failure.Input
		if errors.As(err, &of) {
			r.Failed = of.Msg // the file is the controller's name, the same in all drives
		}
		return r, nil
	}
	r.Judge(o)
	var limit *failure.Limit
	if errors.As(o.Exceeded(&u.Scenario.Limits), &limit) {
		r.Exceeded = limit.Exceeded
	}
	if r.FailSafeMs == stayedDown {
		r.Exceeded = append(r.Exceeded, "fail-safe: a tool stayed in work while no position came")
	}
	return r, nil
}

// drive runs one drive and returns the whole outcome, of use where one is shown.
func (x *Runner) drive(ctx context.Context, d *Drive, dir string) (*run.Outcome, []byte, *settings.Setup, error) {
	u, err := d.Load(x.Seed)
	if err != nil {
		return nil, nil, nil, err
	}
	if x.Bench != nil {
		o, said, err := x.Bench.DriveLockstep(ctx, u, d.environment(dir), io.Discard)
		return o, said, u, err
	}
	if x.Change != nil {
		x.Change(u)
	}
	o, err := run.Drive(u, nil, io.Discard, false)
	return o, nil, u, err
}
