// Whom the guard lets in, and what it bounds.

package guard

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const secret = "0123456789abcdef"

func TestAddressNeedsToken(t *testing.T) {
	for _, c := range []struct {
		addr, token string
		want        string // part of the error; empty = none
	}{
		{"127.0.0.1:0", "", ""},
		{"127.8.9.10:0", "", ""},
		{"[::1]:0", "", ""},
		{"[::ffff:127.0.0.1]:0", "", ""},
		{"localhost:0", "", ""},
		{"LocalHost:0", "", ""},
		{":0", "", "is reached from other machines"},
		{"0.0.0.0:0", "", "is reached from other machines"},
		{"[::]:0", "", "is reached from other machines"},
		{"192.0.2.7:0", "", "is reached from other machines"},
		{"cab.example:0", "", "is reached from other machines"},
		{"0.0.0.0:0", secret, ""},
		{"0.0.0.0:0", secret[1:], "has 15 characters; expected at least 16"},
		{"127.0.0.1:0", "short", "has 5 characters"},
		{"9456", secret, "expected HOST:PORT"},
	} {
		_, err := New(c.addr, c.token)
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%q: %v", c.addr, err)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%q: error %v, want %q", c.addr, err, c.want)
		}
	}
}

func TestHandler(t *testing.T) {
	for _, c := range []struct {
		name               string
		addr, token        string
		method, host, auth string
		origin             string
		want               int
	}{
		{"by address", "127.0.0.1:9456", "", "GET", "127.0.0.1:9456", "", "", 200},
		{"by address without port", "127.0.0.1:80", "", "GET", "127.0.0.1", "", "", 200},
		{"by version 6", "[::1]:9456", "", "GET", "[::1]:9456", "", "", 200},
		{"by version 6 without port", "[::1]:80", "", "GET", "[::1]", "", "", 200},
		{"localhost", "127.0.0.1:9456", "", "GET", "localhost:9456", "", "", 200},
		{"by its own name", "Cab.example:9456", secret, "GET", "cab.EXAMPLE:9456", "Bearer " + secret, "", 200},
		{"rebound name", "127.0.0.1:9456", "", "GET", "evil.example:9456", "", "", 421},
		{"name that begins alike", "127.0.0.1:9456", "", "GET", "127.0.0.1.evil.example", "", "", 421},
		{"no host", "127.0.0.1:9456", "", "GET", "", "", "", 421},
		{"rebound name with token", "0.0.0.0:9456", secret, "GET", "evil.example", "Bearer " + secret, "", 421},
		{"token", "0.0.0.0:9456", secret, "GET", "192.0.2.7:9456", "Bearer " + secret, "", 200},
		{"token, any case of the scheme", "0.0.0.0:9456", secret, "GET", "192.0.2.7:9456", "bearer " + secret, "", 200},
		{"no token", "0.0.0.0:9456", secret, "GET", "192.0.2.7:9456", "", "", 401},
		{"wrong token", "0.0.0.0:9456", secret, "GET", "192.0.2.7:9456", "Bearer " + secret + "0", "", 401},
		{"half a token", "0.0.0.0:9456", secret, "GET", "192.0.2.7:9456", "Bearer " + secret[:8], "", 401},
		{"other scheme", "0.0.0.0:9456", secret, "GET", "192.0.2.7:9456", "Basic " + secret, "", 401},
		{"loopback with token set", "127.0.0.1:9456", secret, "GET", "127.0.0.1:9456", "", "", 401},
		{"own form", "127.0.0.1:9456", "", "POST", "127.0.0.1:9456", "", "http://127.0.0.1:9456", 200},
		{"other site's form", "127.0.0.1:9456", "", "POST", "127.0.0.1:9456", "", "http://evil.example", 403},
	} {
		g, err := New(c.addr, c.token)
		if err != nil {
			t.Fatal(err)
		}
		passed := false
		h := g.Handler(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { passed = true }))
		r := httptest.NewRequest(c.method, "/", nil)
		r.Host = c.host
		if c.auth != "" {
			r.Header.Set("Authorization", c.auth)
		}
		if c.origin != "" {
			r.Header.Set("Origin", c.origin)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != c.want || passed != (c.want == 200) {
			t.Errorf("%s: status %d, passed %v, want %d", c.name, w.Code, passed, c.want)
		}
	}
}

// serve starts a server behind a guard on a free loopback port.
func serve(t *testing.T, h http.HandlerFunc) (addr string) {
	t.Helper()
	g, err := New("127.0.0.1:0", "")
	if err != nil {
		t.Fatal(err)
	}
	l, err := g.Listen()
	if err != nil {
		t.Fatal(err)
	}
	s := g.Server(h)
	done := make(chan struct{})
	go func() { s.Serve(l); close(done) }()
	t.Cleanup(func() { s.Close(); <-done })
	return l.Addr().String()
}

func TestSizeLimits(t *testing.T) {
	addr := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.Copy(io.Discard, r.Body); err != nil {
			http.Error(w, err.Error(), http.StatusRequestEntityTooLarge)
		}
	})
	for _, c := range []struct {
		name         string
		header, body int
		want         int
	}{
		{"small", 100, 100, 200},
		{"a body of 1 MiB", 0, maxBodyBytes, 200},
		{"a byte more", 0, maxBodyBytes + 1, 413},
		{"a header of 64 KiB", 64 << 10, 0, 431},
	} {
		r, err := http.NewRequest("POST", "http://"+addr, strings.NewReader(strings.Repeat("x", c.body)))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("X-Long", strings.Repeat("x", c.header))
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		resp.Body.Close()
		if resp.StatusCode != c.want {
			t.Errorf("%s: status %d, want %d", c.name, resp.StatusCode, c.want)
		}
	}
}

// TestConnectionLimit: the connections beyond the limit wait, and come in when
// one of those before leaves.
func TestConnectionLimit(t *testing.T) {
	addr := serve(t, func(http.ResponseWriter, *http.Request) {})
	ask := func(c net.Conn, wait time.Duration) error {
		c.SetDeadline(time.Now().Add(wait))
		if _, err := fmt.Fprintf(c, "GET / HTTP/1.1\r\nHost: %s\r\n\r\n", addr); err != nil {
			return err
		}
		resp, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err == nil {
			resp.Body.Close()
		}
		return err
	}
	var open []net.Conn
	for range maxConnections + 1 {
		c, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		open = append(open, c)
	}
	for i, c := range open[:maxConnections] {
		if err := ask(c, 10*time.Second); err != nil {
			t.Fatalf("connection %d: %v", i+1, err)
		}
	}
	last := open[maxConnections]
	if err := ask(last, 100*time.Millisecond); err == nil {
		t.Fatalf("connection %d was answered while %d were open", maxConnections+1, maxConnections)
	}
	open[0].Close()
	last.SetDeadline(time.Now().Add(10 * time.Second))
	if _, err := http.ReadResponse(bufio.NewReader(last), nil); err != nil {
		t.Errorf("after one had left: %v", err)
	}
}

// TestHealthBesideOthers: the health path is answered while connections that say
// nothing, say half a request or wait for a long answer take every place, and
// more than stand by come after them; the others then still get theirs. With
// LIFTBENCH_CAMPAIGN=full there are 8000.
func TestHealthBesideOthers(t *testing.T) {
	release := make(chan struct{})
	addr := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != HealthPath {
			<-release
		}
	})
	count := maxConnections + 3*maxStandby
	if os.Getenv("LIFTBENCH_CAMPAIGN") == "full" {
		count = 8000
	}
	for i := range count {
		c, err := net.Dial("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		switch i % 3 {
		case 1:
			fmt.Fprintf(c, "GET / HTTP/1.1\r\nHost: ")
		case 2:
			fmt.Fprintf(c, "GET /long HTTP/1.1\r\nHost: %s\r\n\r\n", addr)
		}
	}
	opened := time.Now()
	client := http.Client{Transport: &http.Transport{}, Timeout: 4 * time.Second} // less than until the silent are closed
	for range 3 {
		resp, err := client.Get("http://" + addr + HealthPath)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if resp.StatusCode != 200 {
			t.Errorf("status %d", resp.StatusCode)
		}
	}
	t.Logf("%d connections; the health path answered three times in %v", count, time.Since(opened))
	close(release)
	client.Timeout = 20 * time.Second
	resp, err := client.Get("http://" + addr + "/long")
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
}

func TestToken(t *testing.T) {
	dir := t.TempDir()
	file := func(content string) string {
		path := filepath.Join(dir, "token")
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	t.Setenv(TokenVariable, " from-environment\n")
	for _, c := range []struct {
		name, file string
		want       string
		wantErr    bool
	}{
		{"environment", "", "from-environment", false},
		{"file", file("  " + secret + "\n"), secret, false},
		{"no file", filepath.Join(dir, "none"), "", true},
	} {
		got, err := Token(c.file)
		if got != c.want || (err != nil) != c.wantErr {
			t.Errorf("%s: %q, %v", c.name, got, err)
		}
	}
	for _, content := range []string{"", " \n", "two words", strings.Repeat("x", 5000)} {
		if got, err := Token(file(content)); err == nil {
			t.Errorf("%.20q gives the token %.20q", content, got)
		}
	}
}
