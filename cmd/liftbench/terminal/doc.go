// Package terminal writes for people at a terminal: lines that stay, one status line,
// and progress. It is quiet when piped.
package terminal
