// Processes of the tests: this very program, and others that talk to it.

package main

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"sync"
	"syscall"
	"testing"
	"time"
)

// asVariable makes the test binary another program.
const asVariable = "LIFTBENCH_TEST_AS"

func TestMain(m *testing.M) {
	switch os.Getenv(asVariable) {
	case "liftbench":
		os.Exit(execute(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	case "naive":
		os.Exit(naive(os.Args[1:]))
	case "echo":
		os.Exit(echo(os.Args[1]))
	}
	os.Exit(m.Run())
}

// echo is a program that says what the first who connects to addr does.
func echo(addr string) int {
	l, err := net.Listen("tcp", addr)
	if err == nil {
		var c net.Conn
		if c, err = l.Accept(); err == nil {
			_, err = io.Copy(os.Stdout, c)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// process is a program that runs beside the test.
type process struct {
	t      testing.TB
	cmd    *exec.Cmd
	stdout chunks
	stderr chunks
	ended  chan struct{}
}

// chunks keeps what is written, and when.
type chunks struct {
	mu   sync.Mutex
	text []byte
	ends []int
	at   []time.Time
}

func (c *chunks) Write(b []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.text = append(c.text, b...)
	c.ends, c.at = append(c.ends, len(c.text)), append(c.at, time.Now())
	return len(b), nil
}

func (c *chunks) String() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return string(c.text)
}

// lines returns the complete lines and when the last byte of each came.
func (c *chunks) lines() (lines [][]byte, at []time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	rest, from, k := bytes.Clone(c.text), 0, 0
	for {
		n := bytes.IndexByte(rest, '\n')
		if n < 0 {
			return lines, at
		}
		from += n + 1
		for c.ends[k] < from {
			k++
		}
		lines, at = append(lines, rest[:n]), append(at, c.at[k])
		rest = rest[n+1:]
	}
}

// start starts the test binary as a program. It is killed with the test, if
// it still runs.
func start(t testing.TB, as string, args ...string) *process {
	t.Helper()
	p := &process{t: t, cmd: exec.Command(os.Args[0], args...), ended: make(chan struct{})}
	// With the race detector a program sleeps a second before it ends.
	p.cmd.Env = append(os.Environ(), asVariable+"="+as, "GORACE="+os.Getenv("GORACE")+" atexit_sleep_ms=0")
	p.cmd.Stdout, p.cmd.Stderr = &p.stdout, &p.stderr
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		p.cmd.Wait()
		close(p.ended)
	}()
	t.Cleanup(func() {
		p.cmd.Process.Kill()
		<-p.ended
	})
	return p
}

// stop sends SIGTERM and waits for the exit status.
func (p *process) stop() (status int) {
	p.cmd.Process.Signal(syscall.SIGTERM)
	return p.wait(30 * time.Second)
}

// wait waits for the exit status.
func (p *process) wait(limit time.Duration) (status int) {
	p.t.Helper()
	select {
	case <-p.ended:
		return p.cmd.ProcessState.ExitCode()
	case <-time.After(limit):
		p.t.Fatalf("%v still runs after %s: %s", p.cmd.Args[1:], limit, p.stderr.String())
		return -1
	}
}

// says waits until standard error holds a text that ends a line, and returns
// what stands between before and after it.
func (p *process) says(before, after string) string {
	p.t.Helper()
	for end := time.Now().Add(30 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
		_, rest, ok := bytes.Cut([]byte(p.stderr.String()), []byte(before))
		if word, _, ok2 := bytes.Cut(rest, []byte(after)); ok && ok2 {
			return string(word)
		}
	}
	p.t.Fatalf("%v does not say %q: %s", p.cmd.Args[1:], before, p.stderr.String())
	return ""
}
