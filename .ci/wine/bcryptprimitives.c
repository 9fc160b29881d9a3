// The one function of bcryptprimitives.dll that programs written in Go need, for a wine
// that has no such file, as Debian's version 8.
#include <stddef.h>
#include <windows.h>
#include <ntsecapi.h>

__declspec(dllexport) BOOL WINAPI ProcessPrng(unsigned char *data, size_t n) { return RtlGenRandom(data, (ULONG)n); }
