// Each kind of port: its name, peers that leave and come back, and its queue.

package port

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/replay/wire"
)

// onTheClock skips a test that real time decides, which a busy machine may miss:
// LIFTBENCH_REALTIME=1 runs it.
func onTheClock(t *testing.T) {
	t.Helper()
	if os.Getenv("LIFTBENCH_REALTIME") != "1" {
		t.Skip("real time decides it; LIFTBENCH_REALTIME=1 runs it")
	}
}

func TestParse(t *testing.T) {
	for name, want := range map[string]Spec{
		"-":                   {Kind: Std, Addr: "-"},
		"file:a/b.nmea":       {Kind: File, Addr: "a/b.nmea"},
		"serial:/dev/ttyUSB0": {Kind: Serial, Addr: "/dev/ttyUSB0", Baud: 38400, Data: 8, Parity: NoParity, Stop: 1},
		"serial:/dev/ttyS1?baud=115200&data=7&parity=even&stop=2": {Kind: Serial, Addr: "/dev/ttyS1", Baud: 115200, Data: 7, Parity: EvenParity, Stop: 2},
		"serial:/dev/ttyS2?parity=odd":                            {Kind: Serial, Addr: "/dev/ttyS2", Baud: 38400, Data: 8, Parity: OddParity, Stop: 1},
		"tcp:192.0.2.7:9000":                                      {Kind: TCP, Addr: "192.0.2.7:9000"},
		"tcp:[2001:db8::1]:1":                                     {Kind: TCP, Addr: "[2001:db8::1]:1"},
		"tcp-listen::9000":                                        {Kind: TCPListen, Addr: "127.0.0.1:9000"},
		"udp-listen:0.0.0.0:0":                                    {Kind: UDPListen, Addr: "0.0.0.0:0"},
		"udp:localhost:9000":                                      {Kind: UDP, Addr: "localhost:9000"},
		"gpsd:localhost":                                          {Kind: GPSD, Addr: "localhost:2947"},
		"can:can0":                                                {Kind: CAN, Addr: "can0"},
	} {
		s, err := Parse(name)
		if err != nil || s != want {
			t.Errorf("%s: %+v, %v; expected %+v", name, s, err, want)
		}
		if again, err := Parse(s.String()); err != nil || again != s {
			t.Errorf("%s: %s is read as %+v, %v", name, s, again, err)
		}
	}
	for name, want := range map[string]string{
		"":                           "expected one of -,",
		"/dev/ttyUSB0":               "expected one of -,",
		"-:a":                        "expected one of -,",
		"http://a":                   "expected one of -,",
		"file:":                      "nothing after the colon",
		"serial:?baud=9600":          "no device",
		"serial:/dev/tty?baud=9601":  `baud "9601" is none of`,
		"serial:/dev/tty?parity=odt": `setting parity="odt"`,
		"serial:/dev/tty?speed=1":    `setting speed="1"`,
		"tcp:host":                   "has no port",
		"tcp::9000":                  "no host",
		"tcp:host:99999":             `port "99999"`,
		"udp:host:0":                 `port "0"`,
	} {
		if _, err := Parse(name); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: error %v; expected %q in it", name, err, want)
		}
	}
}

func TestHarmless(t *testing.T) {
	for name, want := range map[string]bool{
		"-": true, "file:x": true, "tcp:127.0.0.1:1": true, "tcp-listen::1": true, "udp:localhost:1": true, "tcp:[::1]:1": true,
		"serial:/dev/ttyS0": false, "tcp:192.0.2.7:1": false, "tcp-listen:0.0.0.0:1": false, "udp:example.com:1": false, "can:can0": false,
	} {
		if s := parse(t, name); s.Harmless() != want {
			t.Errorf("%s: harmless %v", name, !want)
		}
	}
}

func parse(t *testing.T, name string) Spec {
	t.Helper()
	s, err := Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// watcher keeps a port's events.
type watcher struct {
	mu     sync.Mutex
	events []Event
}

func (w *watcher) add(e Event) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.events = append(w.events, e)
}

func (w *watcher) count(k EventKind) (n int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, e := range w.events {
		if e.Kind == k {
			n++
		}
	}
	return n
}

// open opens a port that is closed at the end of the test.
func open(t *testing.T, name string, mode Mode, opt Options) (*Port, *watcher) {
	t.Helper()
	w := &watcher{}
	opt.Events = w.add
	p, err := Open(t.Context(), parse(t, name), mode, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p, w
}

func waitFor(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !ok(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited for %s in vain", what)
		}
	}
}

// collect reads a port in the background.
type collect struct {
	mu  sync.Mutex
	got bytes.Buffer
}

func (c *collect) run(r io.Reader) {
	b := make([]byte, 100)
	for {
		n, err := r.Read(b)
		c.mu.Lock()
		c.got.Write(b[:n])
		c.mu.Unlock()
		if err != nil {
			return
		}
	}
}

func (c *collect) has(s string) func() bool {
	return func() bool {
		c.mu.Lock()
		defer c.mu.Unlock()
		return strings.Contains(c.got.String(), s)
	}
}

func collecting(p *Port) *collect {
	c := &collect{}
	go c.run(p)
	return c
}

func TestFileAndStd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x")
	out, _ := open(t, "file:"+path, Out, Options{})
	out.Send([]byte("one\n"))
	out.Send([]byte("two\n"))
	out.Close()
	in, _ := open(t, "file:"+path, In, Options{})
	if got, err := io.ReadAll(in); string(got) != "one\ntwo\n" || err != nil {
		t.Errorf("read %q, %v", got, err)
	}
	var std bytes.Buffer
	both, _ := open(t, "-", Duplex, Options{Stdin: strings.NewReader("in"), Stdout: &std})
	both.Send([]byte("out"))
	if got, err := io.ReadAll(both); string(got) != "in" || err != nil {
		t.Errorf("read %q, %v", got, err)
	}
	both.Close()
	if std.String() != "out" {
		t.Errorf("sent %q", std.String())
	}
	if _, err := Open(t.Context(), parse(t, "file:"+path+"no"), In, Options{}); err == nil {
		t.Error("a file that is not there was opened")
	}
	if _, err := Open(t.Context(), parse(t, "gpsd:localhost"), Out, Options{}); err == nil || !strings.Contains(err.Error(), "cannot be used for output") {
		t.Errorf("gpsd for output: %v", err)
	}
}

// If a peer closes the connection, the port connects again and reads on.
func TestPeerClosesAndComesBack(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p, w := open(t, "tcp:"+l.Addr().String(), Duplex, Options{})
	got := collecting(p)
	for i := range 3 {
		c, err := l.Accept()
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(c, "hello %d\n", i)
		waitFor(t, "bytes", got.has(fmt.Sprintf("hello %d\n", i)))
		p.Send([]byte("answer\n"))
		b := make([]byte, 7)
		if _, err := io.ReadFull(c, b); err != nil {
			t.Fatal(err)
		}
		c.Close()
		waitFor(t, "the end of the connection", func() bool { return w.count(Disconnected) == i+1 })
		p.Send([]byte("lost\n"))
	}
	if c := p.Counts(); c.Reconnects != 2 || c.Sent != 3 || c.Dropped != 3 {
		t.Errorf("counts %+v", c)
	}
	l.Close()
	waitFor(t, "a failed connection", func() bool { return w.count(Failed) > 0 })
}

func TestServerTakesTheNewestInput(t *testing.T) {
	p, _ := open(t, "tcp-listen::0", In, Options{})
	got := collecting(p)
	for _, word := range []string{"first", "second"} {
		c, err := net.Dial("tcp", p.Addr())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		io.WriteString(c, word)
		waitFor(t, word, got.has(word))
	}
	waitFor(t, "the older peer to be closed", func() bool { return p.Counts().Peers == 1 })
}

func TestUDP(t *testing.T) {
	in, _ := open(t, "udp-listen::0", In, Options{})
	out, _ := open(t, "udp:"+in.Addr(), Out, Options{})
	got := collecting(in)
	waitFor(t, "the socket", func() bool { return out.Counts().Peers == 1 })
	out.Send([]byte("a line\n"))
	waitFor(t, "the datagram", got.has("a line\n"))
	in.Close()
	// Nobody receives: lines are lost, but the port stays open.
	for range 5 {
		out.Send([]byte("lost\n"))
		time.Sleep(time.Millisecond)
	}
	if c := out.Counts(); c.Peers != 1 || c.Dropped == 0 {
		t.Errorf("counts %+v; expected the socket to stay and lines to be dropped", c)
	}
}

// One of two peers never reads: the other still gets every line, and Send does
// not take longer.
func TestSlowPeerHoldsNobodyUp(t *testing.T) {
	onTheClock(t)
	p, _ := open(t, "tcp-listen::0", Out, Options{})
	var conns [2]net.Conn
	for i := range conns {
		c, err := net.Dial("tcp", p.Addr())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		conns[i] = c
	}
	waitFor(t, "both peers", func() bool { return p.Counts().Peers == 2 })
	line := []byte(strings.Repeat("x", 8000) + "\n")
	const lines = 2000
	read := make(chan int)
	go func() {
		b := make([]byte, 1<<20)
		n := 0
		for n < lines*len(line) {
			k, err := conns[1].Read(b)
			if n += k; err != nil {
				break
			}
		}
		read <- n
	}()
	var longest time.Duration
	for i := range lines {
		began := time.Now()
		p.Send(line)
		longest = max(longest, time.Since(began))
		if i%50 == 0 {
			// At most as much as a loopback socket buffers.
			waitFor(t, "the quick peer", func() bool { return p.someDrained() })
		}
	}
	select {
	case n := <-read:
		if n != lines*len(line) {
			t.Errorf("the quick peer got %d bytes of %d", n, lines*len(line))
		}
	case <-time.After(10 * time.Second):
		t.Fatal("the quick peer waits")
	}
	c := p.Counts()
	if c.Dropped == 0 || c.Sent+c.Dropped > 2*lines {
		t.Errorf("counts %+v; expected drops for the slow peer alone", c)
	}
	t.Logf("longest Send %v, %d lines dropped", longest, c.Dropped)
}

// someDrained reports whether at least one peer has got every line.
func (p *Port) someDrained() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, q := range p.peers {
		if q.drained() {
			return true
		}
	}
	return false
}

// A full queue drops its oldest lines; the newest remain, in order.
func TestQueueDropsTheOldest(t *testing.T) {
	q := newPeer("", nil, true)
	for i := range queueLines + 10 {
		if dropped := q.put(fmt.Appendf(nil, "%d", i)); dropped != (i >= queueLines) {
			t.Errorf("line %d: dropped %v", i, dropped)
		}
	}
	for i := range queueLines {
		if b, n := q.next(nil); n != 1 || string(b) != fmt.Sprint(i+10) {
			t.Fatalf("line %d is %q", i, b)
		}
	}
}

func TestSendDoesNotAllocate(t *testing.T) {
	p, _ := open(t, "file:/dev/null", Out, Options{})
	line := bytes.Repeat([]byte("x"), 80)
	if n := testing.AllocsPerRun(2000, func() { p.Send(line) }); n > 0.5 {
		t.Errorf("%g allocations a line", n)
	}
}

// No goroutine is left when the context is done.
func TestNothingLeaks(t *testing.T) {
	onTheClock(t)
	before := runtime.NumGoroutine()
	ctx, cancel := context.WithCancel(context.Background())
	var ports []*Port
	for _, name := range []string{"tcp:127.0.0.1:1", "tcp-listen::0", "udp-listen::0", "serial:/dev/no-such", "gpsd:127.0.0.1:1", "file:/dev/zero"} {
		p, err := Open(ctx, parse(t, name), In, Options{})
		if err != nil {
			t.Fatal(err)
		}
		ports = append(ports, p)
	}
	c, err := net.Dial("tcp", ports[1].Addr())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	time.Sleep(20 * time.Millisecond)
	began := time.Now()
	cancel()
	for _, p := range ports {
		if _, err := p.Read(make([]byte, 1)); err != nil && err != context.Canceled {
			t.Errorf("read: %v", err)
		}
		p.Close()
	}
	if took := time.Since(began); took > 500*time.Millisecond {
		t.Errorf("it took %v to end", took)
	}
	waitFor(t, "goroutines to end", func() bool { return runtime.NumGoroutine() <= before })
}

// A log is played at its pace, by the times in its sentences or of their arrival,
// past midnight too; sentences with the same time are written together.
func TestPlay(t *testing.T) {
	onTheClock(t)
	var log []byte
	for i := range 6 {
		f := nmea.EmptyFix()
		f.TimeNs, f.Dated, f.Quality, f.LatDeg, f.LonDeg = 1_936_051_199_700e6+int64(i)*100e6, true, nmea.RTKFixed, 52, 9
		log = nmea.AppendVTG(nmea.AppendGGA(log, &f), &f)
	}
	stamped := ""
	for i, line := range strings.SplitAfter(strings.TrimSpace(string(log)), "\n") {
		stamped += fmt.Sprintf("%d.%d %s", 1_936_000_000+i/20, i/2%10, line)
	}
	for name, in := range map[string]string{"own times": string(log), "arrivals": "# a recording\n" + stamped} {
		t.Run(name, func(t *testing.T) {
			var out []byte
			var at []time.Duration
			began := time.Now()
			const slow = 30 * time.Millisecond // the second write takes longer than there is
			late, err := Play(t.Context(), write(func(b []byte) {
				out = append(out, b...)
				at = append(at, time.Since(began).Round(10*time.Millisecond))
				if len(at) == 2 {
					time.Sleep(slow)
				}
			}), strings.NewReader(in), 5)
			if err != nil {
				t.Fatal(err)
			}
			if late < slow-20*time.Millisecond || late > time.Since(began) {
				t.Errorf("the latest write was %v late; expected 10 ms and what the computer takes", late)
			}
			if !bytes.Equal(out, log) {
				t.Errorf("played %q; expected %q", out, log)
			}
			if len(at) != 6 || at[5] < 90*time.Millisecond || at[5] > 300*time.Millisecond {
				t.Errorf("played at %v; expected every 20 ms", at)
			}
		})
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Play(ctx, io.Discard, bytes.NewReader(log), 1); err != context.Canceled {
		t.Errorf("error %v", err)
	}
	if _, err := Play(t.Context(), io.Discard, bytes.NewReader(log), 0); err == nil {
		t.Error("a pace of 0 was taken")
	}
}

type write func([]byte)

func (w write) Write(b []byte) (int, error) { w(b); return len(b), nil }

// program finds a program, or skips the test and names the missing package.
func program(t *testing.T, name, debian string) string {
	t.Helper()
	for _, p := range []string{name, "/usr/sbin/" + name} {
		if path, err := exec.LookPath(p); err == nil {
			return path
		}
	}
	if os.Getenv("LIFTBENCH_REQUIRE_ALL") == "1" {
		t.Fatalf("%s is not installed (Debian package %s)", name, debian)
	}
	t.Skipf("%s is not installed (Debian package %s)", name, debian)
	return ""
}

// ptys connects two pseudo-terminals like a cable: bytes written to one can be
// read from the other.
func ptys(t *testing.T, dir string) (stop func()) {
	t.Helper()
	socat := program(t, "socat", "socat")
	a, b := filepath.Join(dir, "a"), filepath.Join(dir, "b")
	cmd := exec.Command(socat, "pty,raw,echo=0,link="+a, "pty,raw,echo=0,link="+b)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	stop = sync.OnceFunc(func() {
		// The error only says that stop killed it.
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		os.Remove(a)
		os.Remove(b)
	})
	t.Cleanup(stop)
	waitFor(t, "the pseudo-terminals", func() bool {
		_, err1 := os.Stat(a)
		_, err2 := os.Stat(b)
		return err1 == nil && err2 == nil
	})
	return stop
}

// A serial line is unplugged in the middle of a sentence and plugged in again as
// another device.
func TestSerialUnplugged(t *testing.T) {
	dir := t.TempDir()
	stop := ptys(t, dir)
	near, w := open(t, "serial:"+dir+"/a?baud=115200", Duplex, Options{})
	far, _ := open(t, "serial:"+dir+"/b?baud=115200", Duplex, Options{})
	got, back := collecting(near), collecting(far)
	both := func() bool { return near.Counts().Peers == 1 && far.Counts().Peers == 1 }
	waitFor(t, "both ends", both)
	far.Send([]byte("$GNGGA,whole\r\n"))
	near.Send([]byte("setpoint\n"))
	waitFor(t, "bytes", got.has("whole"))
	waitFor(t, "bytes back", back.has("setpoint"))
	far.Send([]byte("$GNGGA,ha"))
	waitFor(t, "half a sentence", got.has("ha"))
	stop()
	waitFor(t, "the line to be gone", func() bool { return w.count(Disconnected) == 1 })
	ptys(t, dir)
	waitFor(t, "both ends again", both)
	far.Send([]byte("$GNGGA,again\r\n"))
	waitFor(t, "bytes after it", got.has("again"))
	if c := near.Counts(); c.Reconnects != 1 {
		t.Errorf("counts %+v; expected one reconnect", c)
	}
}

// A peer on a serial line that does not read makes neither Send nor Close wait.
func TestSerialPeerDoesNotRead(t *testing.T) {
	onTheClock(t)
	dir := t.TempDir()
	ptys(t, dir)
	p, _ := open(t, "serial:"+dir+"/a", Out, Options{})
	waitFor(t, "the line", func() bool { return p.Counts().Peers == 1 })
	for range 2000 {
		p.Send(bytes.Repeat([]byte("x"), 1000))
	}
	began := time.Now()
	p.Close()
	if took := time.Since(began); took > 3*time.Second {
		t.Errorf("closing took %v; expected a second", took)
	}
}

// gpsd passes on the sentences of a receiver on a pseudo-terminal.
func TestGPSD(t *testing.T) {
	onTheClock(t)
	gpsd := program(t, "gpsd", "gpsd")
	dir := t.TempDir()
	ptys(t, dir)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	_, port, _ := net.SplitHostPort(l.Addr().String())
	l.Close()
	device, err := filepath.EvalSymlinks(dir + "/a")
	if err != nil {
		t.Fatal(err)
	}
	// -N stays in the foreground, -n does not wait for a client, -b does not
	// write to the receiver.
	cmd := exec.Command(gpsd, "-N", "-n", "-b", "-S", port, device)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	far, _ := open(t, "serial:"+dir+"/b", Out, Options{})
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go func() {
		f := nmea.EmptyFix()
		f.Dated, f.Quality, f.LatDeg, f.LonDeg, f.SpeedMps, f.CourseDeg = true, nmea.RTKFixed, 52, 9, 2, 90
		for f.TimeNs = 1_936_274_587e9; ctx.Err() == nil; f.TimeNs += 100e6 {
			far.Send(nmea.AppendRMC(nmea.AppendGGA(nil, &f), &f))
			time.Sleep(20 * time.Millisecond)
		}
	}()
	in, _ := open(t, "gpsd:127.0.0.1:"+port, In, Options{})
	rd := epoch.NewReader(in)
	time.AfterFunc(8*time.Second, func() { in.cancel() })
	n := 0
	for rd.Next() && n < 5 {
		if f := rd.Fix(); f.Quality != nmea.RTKFixed || f.LatDeg != 52 {
			t.Errorf("fix %+v", f)
		}
		n++
	}
	if n < 5 {
		t.Errorf("%d fixes through gpsd; expected five", n)
	}
}

// Setpoint frames are sent on a CAN interface, if the kernel has one.
func TestSocketCAN(t *testing.T) {
	const ifname = "vcan0"
	if _, err := net.InterfaceByName(ifname); err != nil {
		t.Skip("no interface vcan0 (kernel module vcan; ip link add dev vcan0 type vcan)")
	}
	candump := program(t, "candump", "can-utils")
	cmd := exec.Command(candump, "-n", "1", ifname)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(200 * time.Millisecond)
	p, _ := open(t, "can:"+ifname, Out, Options{})
	waitFor(t, "the interface", func() bool { return p.Counts().Peers == 1 })
	s := wire.NewState(12)
	s.Set(3, true)
	want := wire.AppendCandump(nil, p.Interface(), &s)
	p.Send(want)
	got, err := io.ReadAll(out)
	if err != nil || string(got) != string(want) {
		t.Errorf("candump prints %q, %v; expected %q", got, err, want)
	}
	_ = cmd.Wait()
}

// FuzzParse checks that String of a parsed name parses to the same Spec.
func FuzzParse(f *testing.F) {
	for _, name := range []string{"-", "file:a?b", "serial:/dev/ttyUSB0?baud=4800&data=7&parity=even&stop=2", "tcp:[::1]:9000", "tcp-listen::0", "gpsd:localhost", "can:can0"} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		s, err := Parse(name)
		if err != nil {
			return
		}
		if again, err := Parse(s.String()); err != nil || again != s {
			t.Errorf("%q is read as %+v, written as %q and read as %+v, %v", name, s, s, again, err)
		}
	})
}
