package phone

import (
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/guard"
)

// A token is drawn where others reach the address, and only there; one that is given stands.
func TestToken(t *testing.T) {
	t.Setenv(guard.TokenVariable, "")
	for _, addr := range []string{"127.0.0.1:0", "localhost:80", "[::1]:80"} {
		if token, err := Token(addr, ""); token != "" || err != nil {
			t.Errorf("%s: %q, %v; want none", addr, token, err)
		}
	}
	seen := map[string]bool{}
	for _, addr := range []string{"0.0.0.0:0", ":8080", "192.0.2.1:80", "[::]:80", "yard.example:80"} {
		token, err := Token(addr, "")
		if len(token) < guard.LeastToken || err != nil || seen[token] {
			t.Errorf("%s: %q, %v; want one of its own", addr, token, err)
		}
		seen[token] = true
	}
	file := filepath.Join(t.TempDir(), "token")
	if err := os.WriteFile(file, []byte("0123456789abcdefgh\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if token, err := Token(":8080", file); token != "0123456789abcdefgh" || err != nil {
		t.Errorf("file: %q, %v", token, err)
	}
	if _, err := Token(":8080", file+"s"); err == nil || !strings.Contains(err.Error(), "no such file; expected a file with the HTTP token") {
		t.Errorf("no file: %v", err)
	}
}

// The invitation has the address with its token, a code, and the words that come first.
func TestInvite(t *testing.T) {
	var b strings.Builder
	if err := Invite(&b, &net.TCPAddr{IP: net.IPv4(192, 0, 2, 17), Port: 8080}, "TOKENTOKENTOKENTOKEN", "/measure"); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"http://192.0.2.17:8080/measure?token=TOKENTOKENTOKENTOKEN\n", "█", "nothing is encrypted", "Nobody stands at the flag line"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	hosts, port := reached(&net.TCPAddr{IP: net.IPv4zero, Port: 81})
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip == nil || ip.IsLoopback() || ip.IsUnspecified() || port != "81" {
			t.Errorf("host %s, port %s: no phone reaches that", h, port)
		}
	}
}
