// Package port reads a receiver's bytes and sends setpoints: over serial lines,
// sockets, CAN, standard input and output, files, or from gpsd. A short text
// names a port; see Parse. A port whose device or connection is lost reopens by
// itself. A peer that does not read never makes the sender wait.
package port
