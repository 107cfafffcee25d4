/* A stand-in for /dev/i2c-N with an NAU7802 on it, for `LD_PRELOAD`: the program under test runs as it
 * is, down to its calls to Linux, where no such device is.
 *
 * DEKCHI_PLATFORM names a text file: "kg from_c to_c tau_s lost". It is read anew for each conversion:
 * the load, the platform's temperature, which goes from from_c to to_c with a time constant of tau_s
 * from when the line was changed, and how many of the next transactions nobody answers. The bridge
 * gives 10,740 counts a kilogram less 55,000, with noise of some 4 g and 4 g a kelvin of drift.
 *
 * With DEKCHI_TIME=own the process has a time of its own, which goes on only when it sleeps: an hour of
 * calibration then takes seconds. That is only for one thread.
 *
 * The register model is that of tests/sense/nau7802_chip.rs (data sheet: Nuvoton, revision 1.7).
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/i2c-dev.h>
#include <linux/i2c.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

enum { ADDRESS = 0x2A, SETTLING = 4, OFFSET = 1200 };

static int bus = -1;
static unsigned char slave, reg[0x20], pointer;
static int64_t power_at = -1, converting_since = -1, calibrated_at = -1, seen, changed_at;
static double kg, from_c = 25, to_c = 25, tau_s = 1, line_since;
static char line[128];
static int lost;
static uint64_t chance = 12;

/* --- time --- */

static int64_t own_ns = 1000000000000;

static int owns_time(void) {
    static int known = -1;
    if (known < 0) {
        const char *how = getenv("DEKCHI_TIME");
        known = how && strcmp(how, "own") == 0;
    }
    return known;
}

int clock_gettime(clockid_t clock, struct timespec *now) {
    if (!owns_time()) return (int)syscall(SYS_clock_gettime, clock, now);
    own_ns += 500;
    int64_t ns = own_ns + (clock == CLOCK_REALTIME ? 1795600000000000000 : 0);
    now->tv_sec = ns / 1000000000;
    now->tv_nsec = ns % 1000000000;
    return 0;
}

int clock_nanosleep(clockid_t clock, int flags, const struct timespec *ask, struct timespec *left) {
    if (!owns_time()) {
        long got = syscall(SYS_clock_nanosleep, clock, flags, ask, left);
        return got < 0 ? errno : 0;
    }
    own_ns += ask->tv_sec * 1000000000 + ask->tv_nsec;
    return 0;
}

int nanosleep(const struct timespec *ask, struct timespec *left) {
    if (!owns_time()) return (int)syscall(SYS_nanosleep, ask, left);
    own_ns += ask->tv_sec * 1000000000 + ask->tv_nsec;
    return 0;
}

static int64_t now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

/* --- the platform --- */

static void look_at_platform(void) {
    const char *path = getenv("DEKCHI_PLATFORM");
    FILE *file = path ? fopen(path, "r") : NULL;
    char text[128] = "";
    if (!file) return;
    char *got = fgets(text, sizeof text, file);
    fclose(file);
    if (!got || strcmp(text, line) == 0) return;
    if (sscanf(text, "%lf %lf %lf %lf %d", &kg, &from_c, &to_c, &tau_s, &lost) == 5) {
        strcpy(line, text);
        line_since = (double)now_us() / 1e6;
    }
}

static double platform_c(void) {
    double t = (double)now_us() / 1e6 - line_since;
    return to_c + (from_c - to_c) * exp(-t / tau_s);
}

static double unit(void) {
    chance = chance * 6364136223846793005u + 1;
    return (double)(chance >> 33) / 2147483648.0 - 0.5;
}

static double noise_kg(void) {
    double sum = 0;
    for (int i = 0; i < 12; i++) sum += unit();
    return 0.004 * sum;
}

/* --- the converter --- */

static int64_t period_us(void) {
    int rate = reg[2] >> 4 & 7;
    return rate == 7 ? 3125 : 100000 >> rate;
}

static int64_t made(int64_t now) {
    return converting_since < 0 ? 0 : (now - converting_since) / period_us();
}

static void set(unsigned at, unsigned char value, int64_t now) {
    if (at >= sizeof reg) return;
    reg[at] = value;
    if (at == 0 && value & 1) {
        memset(reg, 0, sizeof reg);
        power_at = converting_since = -1;
    } else if (at == 0) {
        if (value & 2 && power_at < 0) power_at = now + 200;
        if ((value & 0x16) == 0x16 && converting_since < 0) {
            converting_since = now;
            seen = changed_at = 0;
        }
        reg[0] = value & ~0x28;
    } else if (at == 2 && value & 4) {
        calibrated_at = now + 4 * period_us();
    } else if (at == 1 || at == 0x11) {
        changed_at = made(now);
    }
}

static void convert(int64_t now) {
    seen = made(now);
    double taken_off = reg[3] << 16 | reg[4] << 8 | reg[5], raw;
    if (taken_off >= 0x800000) taken_off -= 0x1000000;
    if (reg[0x11] & 2)
        raw = (0.109 + (platform_c() - 25.0) * 390e-6) / 1.5 * 8388608.0 - taken_off;
    else
        raw = -55000 + 10740 * (kg + 0.004 * (platform_c() - 25.0) + noise_kg()) + OFFSET - taken_off;
    if (seen - changed_at < SETTLING) raw -= 50000;
    if (raw > 0x7FFFFF) raw = 0x7FFFFF;
    if (raw < -0x800000) raw = -0x800000;
    int32_t counts = (int32_t)lrint(raw);
    reg[0x12] = (unsigned char)(counts >> 16);
    reg[0x13] = (unsigned char)(counts >> 8);
    reg[0x14] = (unsigned char)counts;
}

static unsigned char get(unsigned at, int64_t now) {
    if (at >= sizeof reg) return 0xFF;
    if (at == 0)
        return (unsigned char)(reg[0] | (power_at >= 0 && now >= power_at ? 8 : 0) |
                               (made(now) > seen ? 0x20 : 0));
    if (at == 2 && calibrated_at >= 0 && now >= calibrated_at) {
        calibrated_at = -1;
        reg[2] &= (unsigned char)~4;
        reg[3] = OFFSET >> 16, reg[4] = OFFSET >> 8 & 0xFF, reg[5] = OFFSET & 0xFF;
    }
    if (at == 0x12) convert(now);
    return reg[at];
}

static int answers(unsigned address) {
    look_at_platform();
    if (address == ADDRESS && lost-- <= 0) return 1;
    errno = EREMOTEIO;
    return 0;
}

static void take(const unsigned char *bytes, size_t length) {
    int64_t now = now_us();
    if (length > 0) pointer = bytes[0];
    for (size_t i = 1; i < length; i++) set(pointer++, bytes[i], now);
}

static void give(unsigned char *bytes, size_t length) {
    int64_t now = now_us();
    for (size_t i = 0; i < length; i++) bytes[i] = get(pointer++, now);
}

/* --- the calls of Linux --- */

static int opened(const char *path, int flags, mode_t mode) {
    if (strncmp(path, "/dev/i2c-", 9) == 0)
        return bus = (int)syscall(SYS_openat, AT_FDCWD, "/dev/null", O_RDWR | O_CLOEXEC, 0);
    return (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

int open(const char *path, int flags, ...) {
    va_list rest;
    va_start(rest, flags);
    mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    return opened(path, flags, mode);
}

int open64(const char *path, int flags, ...) {
    va_list rest;
    va_start(rest, flags);
    mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(rest, mode_t) : 0;
    va_end(rest);
    return opened(path, flags | O_LARGEFILE, mode);
}

ssize_t write(int fd, const void *bytes, size_t length) {
    if (fd != bus || bus < 0) return syscall(SYS_write, fd, bytes, length);
    if (!answers(slave)) return -1;
    take(bytes, length);
    return (ssize_t)length;
}

ssize_t read(int fd, void *bytes, size_t length) {
    if (fd != bus || bus < 0) return syscall(SYS_read, fd, bytes, length);
    if (!answers(slave)) return -1;
    give(bytes, length);
    return (ssize_t)length;
}

static int transfer(struct i2c_rdwr_ioctl_data *all) {
    for (unsigned i = 0; i < all->nmsgs; i++) {
        struct i2c_msg *message = &all->msgs[i];
        if (!answers(message->addr)) return -1;
        if (message->flags & I2C_M_RD) give(message->buf, message->len);
        else take(message->buf, message->len);
    }
    return (int)all->nmsgs;
}

int ioctl(int fd, unsigned long request, ...) {
    va_list rest;
    va_start(rest, request);
    void *argument = va_arg(rest, void *);
    va_end(rest);
    if (fd != bus || bus < 0) return (int)syscall(SYS_ioctl, fd, request, argument);
    switch (request) {
    case I2C_FUNCS: *(unsigned long *)argument = I2C_FUNC_I2C; return 0;
    /* rppal 0.22 has the numbers of these two the other way round. */
    case I2C_SLAVE:
    case I2C_SLAVE_FORCE: slave = (unsigned char)(uintptr_t)argument; return 0;
    case I2C_RDWR: return transfer(argument);
    default: return 0;
    }
}
