// Package lockstep lets a controller from outside decide on the bench's time: the
// drive goes on when the controller has answered for the instant that has come.
// The words stand in the README of package wire.
package lockstep
