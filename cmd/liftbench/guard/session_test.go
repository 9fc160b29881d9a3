// A browser's way in, by a token said once.

package guard

import (
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"strings"
	"testing"
)

// behind is a handler behind a token.
func behind(t *testing.T) http.Handler {
	t.Helper()
	g, err := New("0.0.0.0:9456", secret)
	if err != nil {
		t.Fatal(err)
	}
	return g.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { w.Write([]byte("in " + r.URL.String())) }))
}

// TestBrowser: a browser says the token once and is in; its address forgets it.
func TestBrowser(t *testing.T) {
	s := httptest.NewServer(behind(t))
	defer s.Close()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	browser := &http.Client{Jar: jar}
	ask := func(c *http.Client, path string) (status int, body, at string) {
		resp, err := c.Get(s.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		var b strings.Builder
		if err := resp.Write(&b); err != nil {
			t.Fatal(err)
		}
		return resp.StatusCode, b.String(), resp.Request.URL.RequestURI()
	}
	if status, _, _ := ask(browser, "/"); status != http.StatusUnauthorized {
		t.Errorf("before the token: %d", status)
	}
	if status, _, _ := ask(browser, "/?token="+secret+"0"); status != http.StatusUnauthorized {
		t.Errorf("with a wrong token: %d", status)
	}
	if status, body, at := ask(browser, "/drive?speed=8&token="+secret); status != 200 || at != "/drive?speed=8" || !strings.Contains(body, "in /drive?speed=8") {
		t.Errorf("with the token: %d at %s: %s", status, at, body)
	}
	if status, _, _ := ask(browser, "/api/live"); status != 200 {
		t.Errorf("after the token: %d", status)
	}
	if status, _, _ := ask(http.DefaultClient, "/"); status != http.StatusUnauthorized {
		t.Errorf("another browser: %d", status)
	}
}

// TestAdmit: what the answer to the token is, and to whom it is given.
func TestAdmit(t *testing.T) {
	h := behind(t)
	ask := func(method, target string, header ...string) *http.Response {
		r := httptest.NewRequest(method, "/", nil)
		r.URL.Path, r.URL.RawQuery, _ = strings.Cut(target, "?")
		r.Host = "192.0.2.7:9456"
		for i := 0; i < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Result()
	}
	in := ask("GET", "/?token="+secret)
	cookie := in.Header.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Strict", "Path=/"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("cookie %q; want %s", cookie, want)
		}
	}
	if strings.Contains(cookie, secret) || in.StatusCode != http.StatusSeeOther || in.Header.Get("Cache-Control") != "no-store" || in.Header.Get("Referrer-Policy") != "no-referrer" {
		t.Errorf("%d, %v", in.StatusCode, in.Header)
	}
	value, _, _ := strings.Cut(cookie, ";")
	for _, c := range []struct {
		name, method, target string
		header               []string
		want                 int
		location             string
	}{
		{"to another host by two slashes", "GET", "//evil.example/?token=" + secret, nil, 303, "/evil.example/"},
		{"to another host by a backslash", "GET", `/\evil.example/?token=` + secret, nil, 303, "/%5Cevil.example/"},
		{"a form", "POST", "/?token=" + secret, nil, 401, ""},
		{"half the token", "GET", "/?token=" + secret[:8], nil, 401, ""},
		{"no token", "GET", "/?token=", nil, 401, ""},
		{"the cookie", "GET", "/", []string{"Cookie", value}, 200, ""},
		{"the token as a cookie", "GET", "/", []string{"Cookie", cookieName + "=" + secret}, 401, ""},
		{"another run's cookie", "GET", "/", []string{"Cookie", cookieName + "=" + newSession().key}, 401, ""},
		{"another site's form with the cookie", "POST", "/", []string{"Cookie", value, "Origin", "http://evil.example"}, 403, ""},
	} {
		if got := ask(c.method, c.target, c.header...); got.StatusCode != c.want || got.Header.Get("Location") != c.location {
			t.Errorf("%s: %d to %q, want %d to %q", c.name, got.StatusCode, got.Header.Get("Location"), c.want, c.location)
		}
	}
}
