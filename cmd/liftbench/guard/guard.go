// Package guard keeps an HTTP server to those it is for: on loopback unless
// told otherwise, behind a token elsewhere, deaf to names that are not its
// own, and with a limit on everything that a peer could make long or large.
//
//	g, err := guard.New("127.0.0.1:9456", token)
//	l, err := g.Listen()
//	err = g.Server(handler).Serve(l)
package guard

import (
	"cmp"
	"crypto/sha256"
	"crypto/subtle"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"
)

// Guard is who may speak to one HTTP address. The zero value lets nobody in.
type Guard struct {
	network, addr string // what to listen on
	name          string // the address's host, as a Host header may say it
	token         [sha256.Size]byte
	needToken     bool
	session       session
	bodyBytes     int64 // 0 = maxBodyBytes
}

// LeastToken is the length from which on a token counts as one, in characters.
const LeastToken = 16

// New returns the guard of an address HOST:PORT. A host that is not loopback,
// and none at all (every interface), needs a token. A token given for loopback
// is asked for there too. The error says what is missing and how to give it.
func New(addr, token string) (*Guard, error) {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("HTTP address %q; expected HOST:PORT, like 127.0.0.1:9456", addr)
	}
	g := &Guard{network: "tcp", addr: addr, name: strings.ToLower(host)}
	if g.name == "localhost" {
		// Whatever a resolver makes of it.
		g.network, g.addr = "tcp4", net.JoinHostPort("127.0.0.1", port)
	}
	if token == "" {
		if !loopback(g.name) {
			return nil, fmt.Errorf("HTTP address %q is reached from other machines; expected a token with it, or a loopback address like 127.0.0.1:%s", addr, port)
		}
		return g, nil
	}
	if len(token) < LeastToken {
		return nil, fmt.Errorf("the HTTP token has %d characters; expected at least %d", len(token), LeastToken)
	}
	g.token, g.needToken, g.session = sha256.Sum256([]byte(token)), true, newSession()
	return g, nil
}

// AllowBody lets request bodies of up to that many bytes through, where a
// handler takes uploads.
func (g *Guard) AllowBody(bytes int64) { g.bodyBytes = bytes }

// loopback reports whether only this machine reaches host.
func loopback(host string) bool {
	if host == "localhost" {
		return true
	}
	ip, err := netip.ParseAddr(host)
	return err == nil && ip.Unmap().IsLoopback()
}

// Loopback reports whether an address HOST:PORT is reached from this machine alone.
func Loopback(addr string) bool {
	host, _, err := net.SplitHostPort(addr)
	return err == nil && loopback(strings.ToLower(host))
}

// Limits of one server: what a peer can make it hold or wait for.
const (
	maxConnections  = 64 // at work
	maxStandby      = 16 // beyond them
	maxHeaderBytes  = 16 << 10
	maxBodyBytes    = 1 << 20
	headerTimeout   = 5 * time.Second
	requestTimeout  = 10 * time.Second
	responseTimeout = 30 * time.Second // http.ResponseController moves it for a stream
	idleTimeout     = 60 * time.Second
)

// HealthPath is where a server says that it runs. It is answered also while all
// connections that may work at a time are taken.
const HealthPath = "/healthz"

// Listen opens the address, for at most 64 connections at a time; more wait.
func (g *Guard) Listen() (net.Listener, error) {
	l, err := net.Listen(g.network, g.addr)
	if err != nil {
		return nil, err
	}
	return newBoundedListener(l), nil
}

// Server returns a server of h behind the guard.
func (g *Guard) Server(h http.Handler) *http.Server {
	return &http.Server{
		Handler:           orderly(g.Handler(h)),
		ConnContext:       withConn,
		MaxHeaderBytes:    maxHeaderBytes,
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       requestTimeout,
		WriteTimeout:      responseTimeout,
		IdleTimeout:       idleTimeout,
	}
}

// Handler lets through to h what names this server as its host, has the token
// where one is needed and is no other site's form: 421, 401 and 403 otherwise.
// A browser says the token once, as /?token=TOKEN, and is then known by a
// cookie. Bodies end after 1 MiB, or what AllowBody says.
func (g *Guard) Handler(h http.Handler) http.Handler {
	h = http.NewCrossOriginProtection().Handler(h)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !g.ownName(r.Host) {
			// A name that an attacker's DNS has pointed here (DNS rebinding).
			http.Error(w, fmt.Sprintf("host %q is not this server; call it by its address", r.Host), http.StatusMisdirectedRequest)
			return
		}
		if g.needToken && !g.hasToken(r) && !g.session.has(r) {
			if r.Method == http.MethodGet && g.isToken(r.URL.Query().Get(tokenQuery)) {
				g.session.admit(w, r)
				return
			}
			w.Header().Set("WWW-Authenticate", `Bearer realm="liftbench"`)
			http.Error(w, "a token is needed: Authorization: Bearer TOKEN, or in a browser, once, /?token=TOKEN", http.StatusUnauthorized)
			return
		}
		w.Header().Set("X-Content-Type-Options", "nosniff")
		r.Body = http.MaxBytesReader(w, r.Body, cmp.Or(g.bodyBytes, maxBodyBytes))
		h.ServeHTTP(w, r)
	})
}

// ownName reports whether a Host header can be of this server: the name it was
// told to listen on, localhost, or an IP address, which no DNS can bend.
func (g *Guard) ownName(hostHeader string) bool {
	host := hostHeader
	if h, _, err := net.SplitHostPort(hostHeader); err == nil {
		host = h
	} else {
		host = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
	}
	host = strings.ToLower(host)
	if host == "" {
		return false
	}
	if host == "localhost" || host == g.name {
		return true
	}
	_, err := netip.ParseAddr(host)
	return err == nil
}

// hasToken reports whether a request has the token in its header.
func (g *Guard) hasToken(r *http.Request) bool {
	scheme, given, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	return strings.EqualFold(scheme, "Bearer") && g.isToken(strings.TrimSpace(given))
}

// isToken compares in a time that does not hang on how much of it is right.
func (g *Guard) isToken(given string) bool {
	sum := sha256.Sum256([]byte(given))
	return subtle.ConstantTimeCompare(sum[:], g.token[:]) == 1
}
