// Package program runs a program beside the bench: it speaks over the program's
// standard input and output, keeps what that says on standard error, and ends it.
package program

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"sync"
	"time"

	"liftbench/replay/crash"
)

// Program is a running command.
type Program struct {
	In  io.WriteCloser // the program's standard input
	Out io.ReadCloser  // its standard output

	cmd    *exec.Cmd
	errs   Tail
	ended  chan struct{}
	status error
	once   sync.Once
}

// Start starts a command as the shell reads it: sh -c, or cmd /C on Windows. env
// is added to the environment. When ctx is done the program is killed.
func Start(ctx context.Context, command string, env ...string) (*Program, error) {
	p := &Program{cmd: shell(command), ended: make(chan struct{})}
	p.cmd.Env = append(os.Environ(), env...)
	p.cmd.Stderr = &p.errs
	// A child of the program may hold its standard error open after its end.
	p.cmd.WaitDelay = patience
	var err error
	if p.In, err = p.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	// No StdoutPipe: that is closed as soon as the program ends, read or not.
	r, w, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	p.Out, p.cmd.Stdout = r, w
	err = p.cmd.Start()
	w.Close()
	if err != nil {
		r.Close()
		return nil, err
	}
	go crash.Guard(func() {
		p.status = p.cmd.Wait()
		close(p.ended)
	})()
	context.AfterFunc(ctx, crash.Guard(p.Kill))
	return p, nil
}

// patience is how long a program may take to end once it has been asked to.
const patience = 2 * time.Second

// Kill ends the program and its children at once. What waits for it to say or
// hear something gets an error.
func (p *Program) Kill() {
	p.once.Do(func() { killAll(p.cmd.Process) })
	p.Out.Close()
}

// Close ends the program: its standard input is closed; who has not ended after
// two seconds is asked to, and two seconds later killed. The error says how it
// ended, if not with exit status 0.
func (p *Program) Close() error {
	p.In.Close()
	go crash.Guard(func() { io.Copy(io.Discard, p.Out) })() // who cannot say a last word would not end
	for _, harder := range []func(){func() { askAll(p.cmd.Process) }, p.Kill} {
		select {
		case <-p.ended:
			p.Kill() // and what it left running
			return p.how()
		case <-time.After(patience):
			harder()
		}
	}
	<-p.ended
	return p.how()
}

// how says how the program ended.
func (p *Program) how() error {
	var exit *exec.ExitError
	switch {
	case p.status == nil:
		return nil
	case errors.As(p.status, &exit):
		return fmt.Errorf("ended with %s", exit)
	}
	return p.status
}

// Stderr returns what the program has said on standard error: the first and the
// last 32 KiB of it.
func (p *Program) Stderr() []byte { return p.errs.Bytes() }

// Tail is an io.Writer that keeps the first and the last 32 KiB of what is
// written. Any goroutine may use it.
type Tail struct {
	mu         sync.Mutex
	head, tail []byte
	lost       int64
}

// half is how much is kept of each end.
const half = 32 << 10

func (t *Tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	n := len(b)
	k := min(n, half-len(t.head))
	t.head, b = append(t.head, b[:k]...), b[k:]
	t.tail = append(t.tail, b...)
	if over := len(t.tail) - half; over > 0 {
		t.lost += int64(over)
		t.tail = append(t.tail[:0], t.tail[over:]...)
	}
	return n, nil
}

// Bytes returns what is kept, and between the ends how much is not.
func (t *Tail) Bytes() []byte {
	t.mu.Lock()
	defer t.mu.Unlock()
	b := append([]byte{}, t.head...)
	if t.lost > 0 {
		b = fmt.Appendf(b, "\n... %d bytes are left out here ...\n", t.lost)
	}
	return append(b, t.tail...)
}
