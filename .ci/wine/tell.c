// Tells a console event to the programs of a name, as the system does when their
// window is closed (2), the user logs off (5) or the computer shuts down (6):
// tell NAME EVENT. It starts the system's own routine for it in them.
#include <windows.h>
#include <stdio.h>
#include <stdlib.h>
#include <tlhelp32.h>

int main(int n, char **arg) {
	if (n != 3) return 2;
	LPTHREAD_START_ROUTINE routine = (LPTHREAD_START_ROUTINE)GetProcAddress(GetModuleHandleA("kernelbase.dll"), "CtrlRoutine");
	PROCESSENTRY32 p = {.dwSize = sizeof p};
	HANDLE all = CreateToolhelp32Snapshot(TH32CS_SNAPPROCESS, 0);
	int told = 0;
	for (BOOL more = Process32First(all, &p); more; more = Process32Next(all, &p)) {
		if (_stricmp(p.szExeFile, arg[1])) continue;
		HANDLE process = OpenProcess(PROCESS_ALL_ACCESS, FALSE, p.th32ProcessID);
		if (process && routine && CreateRemoteThread(process, NULL, 0, routine, (void *)(intptr_t)atoi(arg[2]), 0, NULL)) told++;
	}
	printf("%d told\n", told);
	return told ? 0 : 1;
}
