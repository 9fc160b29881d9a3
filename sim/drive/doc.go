// Package drive is a driver who works a field: passes along the crop rows,
// headland turns between them, a speed that falls before a turn and a hand
// that is never quite still. What comes out is the true motion of the tractor,
// as a motion.Track.
package drive
