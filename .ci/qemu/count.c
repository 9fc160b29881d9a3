// A plugin for qemu-user 7.2: counts the instructions that a thread carries out from one
// call of clock_gettime(CLOCK_THREAD_CPUTIME_ID) to the next, as TestWorstTick of
// replay/live calls it before and after each fix, and writes every second count, that of
// a fix, to the file whose name it is given. The functions declared are the documented
// ones of TCG plugins, version 1 (https://www.qemu.org/docs/master/devel/tcg-plugins.html);
// Debian has no header of them.
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

typedef uint64_t plugin;
struct info {
	const char *target;
	int lowest_version, version;
	bool system;
	int processors, most_processors;
};
void qemu_plugin_register_vcpu_tb_trans_cb(plugin, void (*)(plugin, void *block));
size_t qemu_plugin_tb_n_insns(const void *block);
void qemu_plugin_register_vcpu_tb_exec_cb(void *block, void (*)(unsigned thread, void *), int registers, void *);
void qemu_plugin_register_vcpu_syscall_cb(plugin, void (*)(plugin, unsigned thread, int64_t call, uint64_t, uint64_t, uint64_t, uint64_t, uint64_t,
	uint64_t, uint64_t, uint64_t));
void qemu_plugin_register_atexit_cb(plugin, void (*)(plugin, void *), void *);

__attribute__((visibility("default"))) int qemu_plugin_version = 1;

enum { threads = 256 }; // by their numbers, which are used again
static uint64_t done[threads], before[threads];
static bool within[threads];
static int64_t clock_gettime_call;
static FILE *to;

static void carried_out(unsigned thread, void *instructions) { done[thread % threads] += (uintptr_t)instructions; }

static void translated(plugin p, void *block) {
	qemu_plugin_register_vcpu_tb_exec_cb(block, carried_out, 0, (void *)(uintptr_t)qemu_plugin_tb_n_insns(block));
}

static void called(plugin p, unsigned thread, int64_t call, uint64_t clock, uint64_t b, uint64_t c, uint64_t d, uint64_t e, uint64_t f, uint64_t g, uint64_t h) {
	if (call != clock_gettime_call || clock != 3) return; // CLOCK_THREAD_CPUTIME_ID
	thread %= threads;
	if (within[thread]) fprintf(to, "%llu\n", (unsigned long long)(done[thread] - before[thread]));
	within[thread] = !within[thread];
	before[thread] = done[thread];
}

static void ended(plugin p, void *nothing) { fclose(to); }

__attribute__((visibility("default"))) int qemu_plugin_install(plugin p, const struct info *info, int n, char **arg) {
	clock_gettime_call = !strcmp(info->target, "aarch64") ? 113 : !strcmp(info->target, "arm") ? 263 : !strcmp(info->target, "x86_64") ? 228 : 0;
	if (n != 1 || strncmp(arg[0], "to=", 3) || !clock_gettime_call || !(to = fopen(arg[0] + 3, "w"))) return 1;
	qemu_plugin_register_vcpu_tb_trans_cb(p, translated);
	qemu_plugin_register_vcpu_syscall_cb(p, called);
	qemu_plugin_register_atexit_cb(p, ended, NULL);
	return 0;
}
