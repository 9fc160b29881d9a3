// Package page is what the web page offers: its controls, its lessons, and the
// computing of a setting. The files that the browser loads are in package web.
package page
