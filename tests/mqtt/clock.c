/* A board without a clock battery, for `LD_PRELOAD`: its time of day is an hour behind until the file
 * that DEKCHI_TIME_IS_RIGHT names is there, as when a time server has answered. */
#define _GNU_SOURCE
#include <stdlib.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

enum { BEHIND_S = 3600 };

int clock_gettime(clockid_t clock, struct timespec *now) {
    int failed = (int)syscall(SYS_clock_gettime, clock, now);
    const char *right = getenv("DEKCHI_TIME_IS_RIGHT");
    if (!failed && clock == CLOCK_REALTIME && right && access(right, F_OK) != 0) now->tv_sec -= BEHIND_S;
    return failed;
}
