// A browser's way in. It cannot send the token as a header, so it says it once
// in an address, and is known by a cookie from then on.

package guard

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"net/http"
	"strings"
)

const (
	tokenQuery = "token"
	cookieName = "liftbench"
)

// session is what the cookie holds: not the token, and worth nothing when the
// program has ended.
type session struct {
	key string
	sum [sha256.Size]byte
}

func newSession() session {
	key := rand.Text()
	return session{key, sha256.Sum256([]byte(key))}
}

// has reports whether the browser was let in before.
func (s *session) has(r *http.Request) bool {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return false
	}
	sum := sha256.Sum256([]byte(c.Value))
	return subtle.ConstantTimeCompare(sum[:], s.sum[:]) == 1
}

// admit answers a browser that says the token in its address: the cookie, and
// the same address without the token, so that neither its history nor a
// bookmark nor the page keeps it. Scripts cannot read the cookie, and no other
// site's request carries it (RFC 6265bis, HttpOnly and SameSite=Strict).
func (s *session) admit(w http.ResponseWriter, r *http.Request) {
	http.SetCookie(w, &http.Cookie{
		Name: cookieName, Value: s.key, Path: "/",
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil,
	})
	to := *r.URL
	q := to.Query()
	q.Del(tokenQuery)
	// One slash: with two it would name another host.
	to.Scheme, to.Host, to.User, to.RawPath = "", "", nil, ""
	to.Path, to.RawQuery = "/"+strings.TrimLeft(to.Path, "/"), q.Encode()
	head := w.Header()
	head.Set("Cache-Control", "no-store")
	head.Set("Referrer-Policy", "no-referrer")
	http.Redirect(w, r, to.String(), http.StatusSeeOther)
}
