// Package run takes settings to a result: Drive runs the controller on one drive,
// generated or recorded, and Diagnose finds why the lifts and drops of a recorded day
// were late.
package run
