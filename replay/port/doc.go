// Package port is where bytes come from and setpoints go to: serial lines,
// sockets, standard input and output, files, a gpsd. Each is named by a short
// text, see Parse. A port that vanishes is opened again by itself; a peer that
// does not read never holds up the sender.
package port
