/* Stands in for a library of Windows that Debian's wine (8.0) lacks, in tests alone: random bytes,
   from the library of the system that has always given them. */
#include <windows.h>

BOOLEAN NTAPI SystemFunction036(PVOID buffer, ULONG length);

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE buffer, SIZE_T length)
{
    return SystemFunction036(buffer, (ULONG)length);
}
