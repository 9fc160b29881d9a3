// Package lines tells which serial lines this computer has. It opens none of them:
// opening a line may reset what is behind it.
package lines

import "sort"

// Line is a serial line.
type Line struct {
	// Name opens it, as COM3 or /dev/ttyUSB0. The next device that is plugged in may
	// get it.
	Name string
	// Stable are names of the same line that stay with its device, whatever else is
	// plugged in; only Linux has them.
	Stable []string
	// What is behind it, as the device says of itself; "" = not known.
	What string
}

// sorted sorts lines by name, COM3 before COM10.
func sorted(lines []Line) []Line {
	sort.Slice(lines, func(i, j int) bool { return less(lines[i].Name, lines[j].Name) })
	return lines
}

// less compares names; digits at their end count as a number.
func less(a, b string) bool {
	stemA, stemB := stem(a), stem(b)
	if stemA != stemB {
		return stemA < stemB
	}
	if len(a) != len(b) {
		return len(a) < len(b)
	}
	return a < b
}

// stem is name without the digits at its end.
func stem(name string) string {
	for name != "" && name[len(name)-1] >= '0' && name[len(name)-1] <= '9' {
		name = name[:len(name)-1]
	}
	return name
}
