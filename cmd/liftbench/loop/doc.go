// Package loop runs a controller against the clock: live runs our own on a receiver,
// Bench plays a drive to an outside controller and scores it, and Play sends a drive
// to a port.
package loop
