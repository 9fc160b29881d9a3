// Package wording makes the pieces of text that tables and messages share: counts,
// clock times, rounded numbers, wrapped lines.
package wording
