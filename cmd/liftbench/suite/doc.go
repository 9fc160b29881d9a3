// Package suite is the command suite: the same drives for every controller, what each
// came to, and whether that is better or worse than before.
package suite
