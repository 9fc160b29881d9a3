// Package bind reads YAML strictly into structs by their tags, with file, line and
// column in every error, and makes the JSON Schema and the list of keys from the same
// tags.
package bind
