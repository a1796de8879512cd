/* A disk that fails at one step: counts what a process asks of regular files, and lets one step go wrong.
 * Loaded before the C library (LD_PRELOAD); tests/faults.py arms it. Kinds: 0 none, 1 kill before the step,
 * 2 write half and kill, 3 EIO once, 4 ENOSPC once, 5 ENOSPC from the step on. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

static volatile long taken, wanted;
static volatile int kind;

void faulty_arm(int how, long at) { taken = 0; wanted = at; kind = how; }
long faulty_taken(void) { return taken; }

static int regular(int fd) {
  struct stat found;
  return fd > 2 && fstat(fd, &found) == 0 && S_ISREG(found.st_mode);
}

/* 0 to go on, 1 to write half and die, -1 with errno to fail. */
static int step(int grows) {
  long now = __sync_add_and_fetch(&taken, 1);
  if (!kind || now < wanted || (now > wanted && kind != 5)) return 0;
  if (kind == 2 && grows) return 1;
  if (kind <= 2) kill(getpid(), SIGKILL);
  if (kind == 5 && !grows) return 0; /* a full disk lets files go and be renamed */
  errno = kind == 3 ? EIO : ENOSPC;
  return -1;
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))
#define FAIL(grows) do { if (step(grows) < 0) return -1; } while (0)

ssize_t write(int fd, const void *data, size_t size) {
  if (regular(fd)) {
    int how = step(1);
    if (how < 0) return -1;
    if (how) { REAL(write)(fd, data, size / 2); kill(getpid(), SIGKILL); }
  }
  return REAL(write)(fd, data, size);
}
ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at) {
  if (regular(fd)) {
    int how = step(1);
    if (how < 0) return -1;
    if (how) { REAL(pwrite64)(fd, data, size / 2, at); kill(getpid(), SIGKILL); }
  }
  return REAL(pwrite64)(fd, data, size, at);
}
ssize_t pwrite(int fd, const void *data, size_t size, off_t at) { return pwrite64(fd, data, size, at); }
ssize_t writev(int fd, const struct iovec *parts, int count) {
  if (regular(fd)) FAIL(1);
  return REAL(writev)(fd, parts, count);
}
int fsync(int fd) { FAIL(1); return REAL(fsync)(fd); }
int fdatasync(int fd) { FAIL(1); return REAL(fdatasync)(fd); }
int ftruncate64(int fd, off64_t size) { FAIL(1); return REAL(ftruncate64)(fd, size); }
int ftruncate(int fd, off_t size) { return ftruncate64(fd, size); }
int rename(const char *old, const char *new) { FAIL(0); return REAL(rename)(old, new); }
int renameat(int a, const char *old, int b, const char *new) { FAIL(0); return REAL(renameat)(a, old, b, new); }
int unlink(const char *path) { FAIL(0); return REAL(unlink)(path); }
int unlinkat(int at, const char *path, int flags) { FAIL(0); return REAL(unlinkat)(at, path, flags); }
int mkdir(const char *path, mode_t mode) { FAIL(1); return REAL(mkdir)(path, mode); }
int open64(const char *path, int flags, ...) {
  va_list more;
  va_start(more, flags);
  mode_t mode = flags & O_CREAT ? va_arg(more, mode_t) : 0;
  va_end(more);
  if (flags & O_CREAT && access(path, F_OK)) FAIL(1);
  return REAL(open64)(path, flags, mode);
}
int open(const char *path, int flags, ...) {
  va_list more;
  va_start(more, flags);
  mode_t mode = flags & O_CREAT ? va_arg(more, mode_t) : 0;
  va_end(more);
  return open64(path, flags, mode);
}
