// Tracks of a receiver that goes on recording while the vehicle stands.

package gpx

import (
	"fmt"
	"strings"
	"testing"
)

func TestStandingPoints(t *testing.T) {
	// 1e-6 degrees of latitude are 0.11 m; of 0.5e-6 are below NearM.
	var b strings.Builder
	b.WriteString("<gpx><trk><trkseg>")
	for _, p := range [][2]string{{"52", "10"}, {"52.0000005", "10"}, {"52.001", "10"}, {"52.001", "10.001"}, {"52.0010011", "10.001"}, {"52.0000005", "10"}, {"52", "10"}} {
		fmt.Fprintf(&b, `<trkpt lat="%s" lon="%s"><time>2031-05-09T14:00:00Z</time></trkpt>`, p[0], p[1])
	}
	b.WriteString("</trkseg></trk></gpx>")
	features, err := Decode([]byte(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	got := fmt.Sprint(features[0].Lines)
	// The last point lies near the one before, and closes the ring.
	if want := "[[[10 52] [10 52.001] [10.001 52.001] [10.001 52.0010011] [10 52.0000005] [10 52]]]"; got != want {
		t.Errorf("read %s; want %s", got, want)
	}
}
