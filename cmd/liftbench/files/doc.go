// Package files opens logs and writes results: whole files only, by a temporary file
// and a rename, and sets of files that are all of one run.
package files
