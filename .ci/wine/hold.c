// Holds a file open as a spreadsheet program does, for others to read alone, until
// standard input ends: hold FILE.
#include <windows.h>
#include <stdio.h>

int main(int n, char **arg) {
	HANDLE file = n == 2 ? CreateFileA(arg[1], GENERIC_READ, FILE_SHARE_READ, NULL, OPEN_EXISTING, 0, NULL) : INVALID_HANDLE_VALUE;
	if (file == INVALID_HANDLE_VALUE) return 1;
	puts("held");
	fflush(stdout);
	while (getchar() != EOF) {}
	return 0;
}
