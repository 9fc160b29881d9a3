// Serial lines as Windows lists them: COM1 and on.

package lines

import (
	"go.bug.st/serial"
	"go.bug.st/serial/enumerator"
)

// List returns the serial lines, sorted by name.
func List() ([]Line, error) {
	names, err := serial.GetPortsList() // of the registry; also those without a device's description
	if err != nil {
		return nil, err
	}
	what := map[string]string{}
	if detailed, err := enumerator.GetDetailedPortsList(); err == nil {
		for _, d := range detailed {
			what[d.Name] = d.Product
		}
	}
	var lines []Line
	for _, name := range names {
		lines = append(lines, Line{Name: name, What: what[name]})
	}
	return sorted(lines), nil
}
