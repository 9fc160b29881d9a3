// Package settings reads what users write: machine, controller, field, scenario and
// study files, presets and the demo. A Setup is what they make together.
package settings
