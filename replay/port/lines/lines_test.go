package lines

import "testing"

// Names with a number are in its order, as people look for them.
func TestSorted(t *testing.T) {
	lines := sorted([]Line{{Name: "COM10"}, {Name: "/dev/ttyUSB1"}, {Name: "COM3"}, {Name: "/dev/ttyACM0"}, {Name: "COM4"}})
	got := ""
	for _, l := range lines {
		got += l.Name + " "
	}
	if want := "/dev/ttyACM0 /dev/ttyUSB1 COM3 COM4 COM10 "; got != want {
		t.Errorf("%s; want %s", got, want)
	}
}

// Whatever this computer has: it can be listed.
func TestList(t *testing.T) {
	lines, err := List()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range lines {
		if l.Name == "" {
			t.Errorf("a line without a name: %+v", l)
		}
	}
}
