/* A disk that fails on command: stands between a program and its files below one folder (LD_PRELOAD).
 *
 * Every write, cut, removal and forcing to the disk below the folder is counted. At a chosen one the process is killed
 * (after a chosen share of the bytes), or the call fails from then on, or every call is written down so that the state
 * after a power loss can be worked out. Linux only: paths of descriptors come from /proc. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { PASS, KILL, FAIL, RECORD };
enum { WRITE = 1, CUT = 2, REMOVE = 4, FORCE = 8, READ = 16, MAKE = 32 };

static char folder[4096];
static int mode = PASS, error_number, kinds;
static long at, share, last, count;
static int log_fd = -1;

static void real_write(int fd, const void *data, size_t size) {
  static ssize_t (*call)(int, const void *, size_t);
  if (!call) call = dlsym(RTLD_NEXT, "write");
  if (call(fd, data, size) != (ssize_t)size) abort();
}

/* share: bytes in a thousand that a killed write gets onto the disk. last: the last call that fails. */
void disk_plan(const char *below, int what, long when, long part, int error, int which, long until, int record_to) {
  snprintf(folder, sizeof folder, "%s/", below);
  mode = what; at = when; share = part; error_number = error; kinds = which; last = until; log_fd = record_to;
  count = 0;
}

long disk_count(void) { return count; }

/* A record: kind, offset, size, length of the path, path, data. */
static void record(int kind, const char *path, int64_t offset, int64_t size, const void *data) {
  int64_t head[4] = {kind, offset, size, (int64_t)strlen(path)};
  real_write(log_fd, head, sizeof head);
  real_write(log_fd, path, strlen(path));
  if (data) real_write(log_fd, data, size);
}

void disk_mark(void) { if (mode == RECORD) record(0, "", 0, 0, NULL); }

static int ours(const char *path) {
  size_t length = strlen(folder);
  return mode != PASS && length > 1 && (!strncmp(path, folder, length) || (!strncmp(path, folder, length - 1) && strlen(path) == length - 1));
}

static int name_of(int fd, char *path, size_t size) {
  char link[64];
  snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
  ssize_t got = readlink(link, path, size - 1);
  if (got < 0) return 0;
  path[got] = 0;
  return ours(path);
}

/* 1: the call is to fail; the process may not come back from here. */
static int struck(int kind) {
  if (mode == PASS || !(kinds & kind)) return 0;
  count++;
  if (mode == KILL && count == at) return 1;
  return mode == FAIL && count >= at && count <= last;
}

#define REAL(name, type, ...) static type (*real)(__VA_ARGS__); if (!real) real = dlsym(RTLD_NEXT, name)

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t offset) {
  REAL("pwrite64", ssize_t, int, const void *, size_t, off64_t);
  char path[4096];
  if (!name_of(fd, path, sizeof path)) return real(fd, data, size, offset);
  if (struck(WRITE)) {
    size_t part = size * share / 1000;
    if (part) real(fd, data, part, offset);
    if (mode == KILL) kill(getpid(), SIGKILL);
    if (part && count == at) return part; /* a short write first, then the error */
    errno = error_number;
    return -1;
  }
  ssize_t done = real(fd, data, size, offset);
  if (mode == RECORD && done > 0) record(WRITE, path, offset, done, data);
  return done;
}

ssize_t pread64(int fd, void *data, size_t size, off64_t offset) {
  REAL("pread64", ssize_t, int, void *, size_t, off64_t);
  char path[4096];
  if (mode == FAIL && (kinds & READ) && name_of(fd, path, sizeof path) && struck(READ)) { errno = error_number; return -1; }
  return real(fd, data, size, offset);
}

int ftruncate64(int fd, off64_t size) {
  REAL("ftruncate64", int, int, off64_t);
  char path[4096];
  if (!name_of(fd, path, sizeof path)) return real(fd, size);
  if (struck(CUT)) {
    if (share > 500) real(fd, size);
    if (mode == KILL) kill(getpid(), SIGKILL);
    errno = error_number;
    return -1;
  }
  int done = real(fd, size);
  if (mode == RECORD && !done) record(CUT, path, size, 0, NULL);
  return done;
}

int unlink(const char *path) {
  REAL("unlink", int, const char *);
  if (!ours(path)) return real(path);
  if (struck(REMOVE)) {
    if (share > 500) real(path);
    if (mode == KILL) kill(getpid(), SIGKILL);
    errno = error_number;
    return -1;
  }
  int done = real(path);
  if (mode == RECORD && !done) record(REMOVE, path, 0, 0, NULL);
  return done;
}

static int forced(int fd, int (*real)(int)) {
  char path[4096];
  if (!name_of(fd, path, sizeof path)) return real(fd);
  if (struck(FORCE)) {
    if (share > 500) real(fd);
    if (mode == KILL) kill(getpid(), SIGKILL);
    errno = error_number;
    return -1;
  }
  int done = mode == PASS ? real(fd) : 0; /* what reaches the disk is what we say: no need to wait for a real one */
  if (mode == RECORD && !done) record(FORCE, path, 0, 0, NULL);
  return done;
}

int fsync(int fd) { REAL("fsync", int, int); return forced(fd, real); }
int fdatasync(int fd) { REAL("fdatasync", int, int); return forced(fd, real); }

static int made(int (*real)(const char *, int, ...), const char *path, int flags, int rights) {
  if (!(flags & O_CREAT) || !ours(path)) return real(path, flags, rights);
  if (struck(MAKE)) {
    if (mode == KILL) {
      if (share > 500) real(path, flags, rights);
      kill(getpid(), SIGKILL);
    }
    errno = error_number;
    return -1;
  }
  int is_new = access(path, F_OK) != 0;
  int fd = real(path, flags, rights);
  if (mode == RECORD && fd >= 0 && is_new) record(MAKE, path, 0, 0, NULL);
  return fd;
}

#define RIGHTS(flags) int rights = 0; if (flags & O_CREAT) { va_list rest; va_start(rest, flags); rights = va_arg(rest, int); va_end(rest); }

int open(const char *path, int flags, ...) { REAL("open", int, const char *, int, ...); RIGHTS(flags) return made(real, path, flags, rights); }
int open64(const char *path, int flags, ...) { REAL("open64", int, const char *, int, ...); RIGHTS(flags) return made(real, path, flags, rights); }
