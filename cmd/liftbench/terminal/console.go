// Standard error of a command that runs for long: lines that stay, and on a
// terminal a status line below them.

package terminal

import (
	"fmt"
	"io"
	"sync"
	"time"

	"liftbench/replay/crash"
)

// Console writes its lines from a goroutine of its own, so that nobody waits
// for a terminal or a pipe that is stuck. Lines beyond what it can hold are
// lost.
type Console struct {
	Status bool // a terminal: there is a status line
	Lines  chan ConsoleLine
	Done   chan struct{}
	close  sync.Once
}

type ConsoleLine struct {
	text string
	stay bool // otherwise it is the status line
}

// ConsoleLines is how many lines may wait to be written.
const ConsoleLines = 256

// NewConsole returns a console on stderr.
func NewConsole(stderr io.Writer) *Console {
	c := &Console{Status: IsTerminal(stderr), Lines: make(chan ConsoleLine, ConsoleLines), Done: make(chan struct{})}
	go crash.Guard(func() { c.Write(stderr) })()
	return c
}

func (c *Console) Write(out io.Writer) {
	defer close(c.Done)
	status := ""
	for l := range c.Lines {
		text := ""
		if l.stay {
			text = l.text + "\n" + status
		} else {
			status = l.text
			text = status
		}
		if c.Status {
			Redraw(out, text)
		} else {
			io.WriteString(out, text)
		}
	}
	if status != "" {
		Redraw(out, "")
	}
}

// Say prints a line that stays.
func (c *Console) Say(format string, args ...any) {
	select {
	case c.Lines <- ConsoleLine{fmt.Sprintf(format, args...), true}:
	default:
	}
}

// Draw replaces the status line; where there is no terminal it does nothing.
func (c *Console) Draw(line string) {
	if !c.Status {
		return
	}
	select {
	case c.Lines <- ConsoleLine{line, false}:
	default:
	}
}

// Finish removes the status line when all lines are written, or gives up after
// a second. Neither Say nor Draw may be called after it.
func (c *Console) Finish() {
	c.close.Do(func() { close(c.Lines) })
	select {
	case <-c.Done:
	case <-time.After(time.Second):
	}
}
