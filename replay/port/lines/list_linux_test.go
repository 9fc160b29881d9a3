package lines

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// A system with a USB receiver, an adapter that says less of itself, the PC's own
// chip, one that is not there, and a console. Folders and links lie as the kernel
// lays them (Documentation/ABI/testing/sysfs-tty, sysfs-bus-usb) and as udev does
// (60-serial.rules).
func TestBelow(t *testing.T) {
	root := t.TempDir()
	file := func(name, text string) {
		t.Helper()
		name = filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	link := func(name, to string) {
		t.Helper()
		name = filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(to, name); err != nil {
			t.Fatal(err)
		}
	}
	const usb = "sys/devices/pci0000:00/usb1/"
	file(usb+"product", "Host Controller\n")
	file(usb+"1-1/manufacturer", "Feldweg\n")
	file(usb+"1-1/product", "Receiver Seven\n")
	file(usb+"1-1/1-1:1.0/tty/ttyACM0/dev", "166:0\n")
	link(usb+"1-1/1-1:1.0/tty/ttyACM0/device", "../../../1-1:1.0")
	link("sys/class/tty/ttyACM0", "../../devices/pci0000:00/usb1/1-1/1-1:1.0/tty/ttyACM0")
	file(usb+"1-2/manufacturer", "Hofbrücke\n")
	file(usb+"1-2/product", "Hofbrücke Adapter\n")
	file(usb+"1-2/1-2:1.0/ttyUSB10/tty/ttyUSB10/dev", "188:10\n")
	link(usb+"1-2/1-2:1.0/ttyUSB10/tty/ttyUSB10/device", "../../../ttyUSB10")
	link("sys/class/tty/ttyUSB10", "../../devices/pci0000:00/usb1/1-2/1-2:1.0/ttyUSB10/tty/ttyUSB10")
	for name, kind := range map[string]string{"ttyS0": "4\n", "ttyS1": "0\n"} {
		file("sys/devices/platform/serial8250/tty/"+name+"/type", kind)
		link("sys/devices/platform/serial8250/tty/"+name+"/device", "../../../serial8250")
		link("sys/class/tty/"+name, "../../devices/platform/serial8250/tty/"+name)
	}
	file("sys/devices/virtual/tty/tty1/dev", "4:1\n")
	link("sys/class/tty/tty1", "../../devices/virtual/tty/tty1")
	link("dev/serial/by-id/usb-Feldweg_Receiver_Seven_0042-if00", "../../ttyACM0")

	got, err := below(root)
	if err != nil {
		t.Fatal(err)
	}
	want := []Line{
		{Name: "/dev/ttyACM0", Stable: []string{"/dev/serial/by-id/usb-Feldweg_Receiver_Seven_0042-if00"}, What: "Feldweg Receiver Seven"},
		{Name: "/dev/ttyS0"},
		{Name: "/dev/ttyUSB10", What: "Hofbrücke Adapter"},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v\nwant %+v", got, want)
	}
}

// A system without sysfs, as some containers: an error, not an empty list.
func TestWithoutSysfs(t *testing.T) {
	if _, err := below(t.TempDir()); err == nil {
		t.Error("no error")
	}
}
