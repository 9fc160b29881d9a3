// What the process takes: memory, processor time, open files. Names and meaning
// are those of Prometheus's client libraries, so that dashboards made for any
// program show this one.

package metrics

import (
	"bytes"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strconv"
	"strings"
	"time"
)

// figures of the Go runtime, as sums of those of package runtime/metrics.
var figures = []struct {
	kind       kind
	name, help string
	of         []string
}{
	{gauge, "go_gc_gogc_percent", "How much the heap grows before it is collected.", []string{"/gc/gogc:percent"}},
	{gauge, "go_gc_gomemlimit_bytes", "Memory that the program was told to keep within.", []string{"/gc/gomemlimit:bytes"}},
	{gauge, "go_goroutines", "Goroutines that exist.", []string{"/sched/goroutines:goroutines"}},
	{gauge, "go_memstats_alloc_bytes", "Heap in use by objects.", []string{"/memory/classes/heap/objects:bytes"}},
	{counter, "go_memstats_alloc_bytes_total", "Heap given to objects so far.", []string{"/gc/heap/allocs:bytes"}},
	{gauge, "go_memstats_buck_hash_sys_bytes", "Memory of the tables for profiles.", []string{"/memory/classes/profiling/buckets:bytes"}},
	{counter, "go_memstats_frees_total", "Objects that were freed.", []string{"/gc/heap/frees:objects", "/gc/heap/tiny/allocs:objects"}},
	{gauge, "go_memstats_gc_sys_bytes", "Memory of the garbage collector.", []string{"/memory/classes/metadata/other:bytes"}},
	{gauge, "go_memstats_heap_alloc_bytes", "Heap in use by objects.", []string{"/memory/classes/heap/objects:bytes"}},
	{gauge, "go_memstats_heap_idle_bytes", "Heap without objects.", []string{"/memory/classes/heap/released:bytes", "/memory/classes/heap/free:bytes"}},
	{gauge, "go_memstats_heap_inuse_bytes", "Heap in spans with objects.", []string{"/memory/classes/heap/objects:bytes", "/memory/classes/heap/unused:bytes"}},
	{gauge, "go_memstats_heap_objects", "Objects on the heap.", []string{"/gc/heap/objects:objects"}},
	{gauge, "go_memstats_heap_released_bytes", "Heap given back to the system.", []string{"/memory/classes/heap/released:bytes"}},
	{gauge, "go_memstats_heap_sys_bytes", "Heap obtained from the system.",
		[]string{"/memory/classes/heap/objects:bytes", "/memory/classes/heap/unused:bytes", "/memory/classes/heap/released:bytes", "/memory/classes/heap/free:bytes"}},
	{counter, "go_memstats_mallocs_total", "Objects that were made.", []string{"/gc/heap/allocs:objects", "/gc/heap/tiny/allocs:objects"}},
	{gauge, "go_memstats_mcache_inuse_bytes", "Memory of caches of spans, in use.", []string{"/memory/classes/metadata/mcache/inuse:bytes"}},
	{gauge, "go_memstats_mcache_sys_bytes", "Memory of caches of spans.", []string{"/memory/classes/metadata/mcache/inuse:bytes", "/memory/classes/metadata/mcache/free:bytes"}},
	{gauge, "go_memstats_mspan_inuse_bytes", "Memory of descriptions of spans, in use.", []string{"/memory/classes/metadata/mspan/inuse:bytes"}},
	{gauge, "go_memstats_mspan_sys_bytes", "Memory of descriptions of spans.", []string{"/memory/classes/metadata/mspan/inuse:bytes", "/memory/classes/metadata/mspan/free:bytes"}},
	{gauge, "go_memstats_next_gc_bytes", "Heap at which the next collection ends.", []string{"/gc/heap/goal:bytes"}},
	{gauge, "go_memstats_other_sys_bytes", "Memory for other ends.", []string{"/memory/classes/other:bytes"}},
	{gauge, "go_memstats_stack_inuse_bytes", "Memory of goroutines' stacks.", []string{"/memory/classes/heap/stacks:bytes"}},
	{gauge, "go_memstats_stack_sys_bytes", "Memory of all stacks.", []string{"/memory/classes/heap/stacks:bytes", "/memory/classes/os-stacks:bytes"}},
	{gauge, "go_memstats_sys_bytes", "Memory obtained from the system.", []string{"/memory/classes/total:bytes"}},
	{gauge, "go_sched_gomaxprocs_threads", "Threads that may run Go code at a time.", []string{"/sched/gomaxprocs:threads"}},
}

// processFamilies returns what the process takes now. Where there is no /proc,
// only what the Go runtime knows.
func processFamilies() []*family {
	var all []*family
	add := func(k kind, name, help string, v float64) {
		f := &family{name: name, help: help, kind: k, series: map[string]*series{}}
		f.of().value = v
		all = append(all, f)
	}
	for _, g := range figures {
		sample := make([]metrics.Sample, len(g.of))
		for i, name := range g.of {
			sample[i].Name = name
		}
		metrics.Read(sample)
		sum, known := 0.0, true
		for _, x := range sample {
			if x.Value.Kind() != metrics.KindUint64 {
				known = false // by another release of Go
				break
			}
			sum += float64(x.Value.Uint64())
		}
		if known {
			add(g.kind, g.name, g.help, sum)
		}
	}
	threads, _ := runtime.ThreadCreateProfile(nil)
	add(gauge, "go_threads", "Threads that the system made.", float64(threads))

	stats := debug.GCStats{PauseQuantiles: make([]time.Duration, 5)}
	debug.ReadGCStats(&stats)
	add(gauge, "go_memstats_last_gc_time_seconds", "When the last collection ended, since 1970.", float64(stats.LastGC.UnixNano())/1e9)
	pauses := &family{name: "go_gc_duration_seconds", help: "For how long all goroutines stood still for collections.", kind: summary, series: map[string]*series{}}
	x := pauses.of()
	x.count, x.value = uint64(stats.NumGC), stats.PauseTotal.Seconds()
	for i, q := range stats.PauseQuantiles {
		x.shares = append(x.shares, float64(i)/4)
		x.quantiles = append(x.quantiles, q.Seconds())
	}
	version := &family{name: "go_info", help: "The release of Go.", kind: gauge, labels: []string{"version"}, series: map[string]*series{}}
	version.of(runtime.Version()).value = 1
	all = append(all, pauses, version)

	// proc(5), Linux.
	const ticksPerSecond = 100
	if stat, err := os.ReadFile("/proc/self/stat"); err == nil {
		// The name, in parentheses, may hold blanks.
		words := bytes.Fields(stat[bytes.LastIndexByte(stat, ')')+1:])
		at := func(field int) float64 { // as proc(5) counts
			if field-3 >= len(words) {
				return 0
			}
			v, _ := strconv.ParseFloat(string(words[field-3]), 64)
			return v
		}
		add(counter, "process_cpu_seconds_total", "Processor time, of the program and of the system for it.", (at(14)+at(15))/ticksPerSecond)
		add(gauge, "process_virtual_memory_bytes", "Address space in use.", at(23))
		add(gauge, "process_resident_memory_bytes", "Memory in use.", at(24)*float64(os.Getpagesize()))
		if boot, ok := figureOf("/proc/stat", "btime"); ok {
			add(gauge, "process_start_time_seconds", "When the process began, since 1970.", boot+at(22)/ticksPerSecond)
		}
	}
	if open, err := os.ReadDir("/proc/self/fd"); err == nil {
		add(gauge, "process_open_fds", "Open files.", float64(len(open)))
	}
	if most, ok := figureOf("/proc/self/limits", "Max open files"); ok {
		add(gauge, "process_max_fds", "Most open files.", most)
	}
	if most, ok := figureOf("/proc/self/limits", "Max address space"); ok {
		add(gauge, "process_virtual_memory_max_bytes", "Most address space.", most)
	}
	if in, out, ok := octets(); ok {
		add(counter, "process_network_receive_bytes_total", "Bytes that came over the network.", in)
		add(counter, "process_network_transmit_bytes_total", "Bytes that went over the network.", out)
	}
	return all
}

// figureOf returns the first number behind a line's beginning in a file.
func figureOf(file, beginning string) (float64, bool) {
	text, err := os.ReadFile(file)
	if err != nil {
		return 0, false
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, beginning); ok {
			word, _, _ := strings.Cut(strings.TrimSpace(rest), " ")
			if word == "unlimited" {
				return 1<<64 - 1, true
			}
			v, err := strconv.ParseFloat(word, 64)
			return v, err == nil
		}
	}
	return 0, false
}

// octets returns the bytes that came and went over the network, of the names and
// the values in two lines that begin with IpExt.
func octets() (in, out float64, ok bool) {
	text, err := os.ReadFile("/proc/self/net/netstat")
	if err != nil {
		return 0, 0, false
	}
	var names []string
	for line := range strings.Lines(string(text)) {
		words := strings.Fields(line)
		if len(words) == 0 || words[0] != "IpExt:" {
			continue
		}
		if names == nil {
			names = words
			continue
		}
		for i, name := range names[:min(len(names), len(words))] {
			v, _ := strconv.ParseFloat(words[i], 64)
			switch name {
			case "InOctets":
				in = v
			case "OutOctets":
				out = v
			}
		}
	}
	return in, out, true
}
