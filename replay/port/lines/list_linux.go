// Serial lines as the Linux kernel tells of them in sysfs, and their stable names as
// udev makes them.

package lines

import (
	"os"
	"path/filepath"
	"strings"
)

// List returns the serial lines, sorted by name.
func List() ([]Line, error) { return below("/") }

// below lists the lines of a system whose root folder is root.
func below(root string) ([]Line, error) {
	class := filepath.Join(root, "sys/class/tty")
	entries, err := os.ReadDir(class)
	if err != nil {
		return nil, err
	}
	stable := stableNames(root)
	var lines []Line
	for _, e := range entries {
		// Consoles and pseudo-terminals have no device.
		device, err := filepath.EvalSymlinks(filepath.Join(class, e.Name(), "device"))
		if err != nil || absent(filepath.Join(class, e.Name())) {
			continue
		}
		name := "/dev/" + e.Name()
		lines = append(lines, Line{Name: name, Stable: stable[name], What: described(device, root)})
	}
	return sorted(lines), nil
}

// absent reports whether a line is one of those that the driver of the PC's own
// serial chips keeps ready without a chip: their type is 0, PORT_UNKNOWN
// (linux/serial_core.h).
func absent(line string) bool { return read(line, "type") == "0" }

// stableNames returns the names below /dev/serial/by-id, by the device that each
// links to.
func stableNames(root string) map[string][]string {
	folder := "/dev/serial/by-id"
	entries, err := os.ReadDir(filepath.Join(root, folder))
	if err != nil {
		return nil // without udev, or without a USB device
	}
	names := map[string][]string{}
	for _, e := range entries {
		target, err := os.Readlink(filepath.Join(root, folder, e.Name()))
		if err != nil {
			continue
		}
		if !filepath.IsAbs(target) {
			target = filepath.Join(folder, target)
		}
		names[target] = append(names[target], folder+"/"+e.Name())
	}
	return names
}

// described returns maker and product of the USB device that a line belongs to: the
// nearest folder upwards that tells of them.
func described(device, root string) string {
	for root = filepath.Clean(root); len(device) > len(root); device = filepath.Dir(device) {
		product := read(device, "product")
		if product == "" {
			continue
		}
		if maker := read(device, "manufacturer"); maker != "" && !strings.HasPrefix(product, maker) {
			return maker + " " + product
		}
		return product
	}
	return ""
}

// read returns the first line of a file of sysfs, "" if there is none.
func read(folder, file string) string {
	text, err := os.ReadFile(filepath.Join(folder, file))
	if err != nil {
		return ""
	}
	line, _, _ := strings.Cut(string(text), "\n")
	return strings.TrimSpace(line)
}
