package desktop

import (
	"net"
	"os"
	"reflect"
	"testing"
)

// What is run for a double click, for files dropped, and for words that are commands.
func TestArguments(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{"day.nmea", "Mein Feld ä.kml", "run"} {
		if err := os.WriteFile(name, nil, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	page := []string{"serve", "--http", "127.0.0.1:0", "--open"}
	for _, c := range []struct{ args, want []string }{
		{nil, page},
		{[]string{"day.nmea", "Mein Feld ä.kml"}, append(page[:len(page):len(page)], "--give", "day.nmea", "--give", "Mein Feld ä.kml")},
		{[]string{"run"}, nil}, // a command, though a file has its name
		{[]string{"run", "day.nmea"}, nil},
		{[]string{"day.nmea", "absent.kml"}, nil},
		{[]string{"."}, nil},
		{[]string{"--version"}, nil},
	} {
		got, ok := arguments(c.args, []string{"run", "serve"})
		if !reflect.DeepEqual(got, c.want) && (ok || c.want != nil) || ok != (c.want != nil) {
			t.Errorf("%q: %q, %v; want %q", c.args, got, ok, c.want)
		}
	}
}

// A page that listens on all interfaces is opened at one that a browser takes, with the token.
func TestAddress(t *testing.T) {
	for _, c := range []struct{ ip, token, want string }{
		{"127.0.0.1", "", "http://127.0.0.1:8080/"},
		{"::", "a b", "http://127.0.0.1:8080/?token=a+b"},
		{"192.168.1.5", "x", "http://192.168.1.5:8080/?token=x"},
	} {
		if got := address(&net.TCPAddr{IP: net.ParseIP(c.ip), Port: 8080}, c.token); got != c.want {
			t.Errorf("%s: %s; want %s", c.ip, got, c.want)
		}
	}
}
