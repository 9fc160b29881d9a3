// Starts a program and ends with its exit status: start HOW PROGRAM [ARGUMENT...]. HOW is
// window, for a console window of its own, as a double click opens one, or shell, for the
// window that start itself is in.
#include <windows.h>
#include <stdio.h>
#include <wchar.h>

int main(void) {
	int n;
	wchar_t **arg = CommandLineToArgvW(GetCommandLineW(), &n), line[4096] = L"";
	if (n < 3) return 2;
	for (int i = 2; i < n; i++) {
		if (wcslen(line) + wcslen(arg[i]) + 4 > sizeof line / sizeof *line) return 2;
		wcscat(wcscat(wcscat(line, L"\""), arg[i]), L"\" ");
	}
	STARTUPINFOW start = {.cb = sizeof start};
	PROCESS_INFORMATION program;
	DWORD status = 2, how = wcscmp(arg[1], L"window") ? 0 : CREATE_NEW_CONSOLE;
	if (!CreateProcessW(NULL, line, NULL, NULL, FALSE, how, NULL, NULL, &start, &program)) return 2;
	WaitForSingleObject(program.hProcess, INFINITE);
	GetExitCodeProcess(program.hProcess, &status);
	return (int)status;
}
