/* A disk that fails at one step: counts what a process asks of regular files, and lets one step go wrong.
 * Loaded before the C library (LD_PRELOAD); tests/faults.py arms it. Kinds: 0 none, 1 kill before the step,
 * 2 write half and kill, 3 EIO once, 4 ENOSPC once, 5 ENOSPC from the step on.
 * Asked to record, it writes down each change of names and contents and each sync, in order, so that
 * tests/power_loss.py can tell what a disk holds when power fails after any of them. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/sendfile.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/uio.h>
#include <unistd.h>

static volatile long taken, wanted;
static volatile int kind;

void faulty_arm(int how, long at) { taken = 0; wanted = at; kind = how; }
long faulty_taken(void) { return taken; }

/* ---- what is written down: "kind inode place length length length\n", then two paths and the data */

static int journal = -1;
static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;

void faulty_record(int fd) { journal = fd; }

static void all_of(const void *data, size_t size) {
  while (size > 0) {
    ssize_t done = syscall(SYS_write, journal, data, size);
    if (done <= 0) _exit(72);
    data = (const char *)data + done;
    size -= (size_t)done;
  }
}

static void note(char what, unsigned long inode, long place, const char *path, const char *to, const void *data,
                 size_t size) {
  char head[160];
  if (journal < 0) return;
  int length = snprintf(head, sizeof head, "%c %lu %ld %zu %zu %zu\n", what, inode, place, strlen(path), strlen(to), size);
  pthread_mutex_lock(&turn);
  all_of(head, (size_t)length);
  all_of(path, strlen(path));
  all_of(to, strlen(to));
  all_of(data, size);
  pthread_mutex_unlock(&turn);
}

/* The whole path of a name: below a folder that is open, or where the process stands. */
static const char *whole(int at, const char *path, char *into) {
  char base[PATH_MAX], link[64];
  if (path[0] == '/') return path;
  snprintf(link, sizeof link, at == AT_FDCWD ? "/proc/self/cwd" : "/proc/self/fd/%d", at);
  ssize_t size = readlink(link, base, sizeof base - 1);
  base[size < 0 ? 0 : size] = 0;
  if (snprintf(into, PATH_MAX, "%s/%s", base, path) >= PATH_MAX) _exit(72);
  return into;
}

static void note_written(int fd, long place, const void *data, ssize_t size) {
  struct stat found;
  if (journal >= 0 && size > 0 && fstat(fd, &found) == 0 && S_ISREG(found.st_mode))
    note('w', found.st_ino, place, "", "", data, (size_t)size);
}

/* Where the next write goes, asked before it. */
static long next_place(int fd) {
  struct stat found;
  if (journal < 0) return 0;
  if (fcntl(fd, F_GETFL) & O_APPEND && fstat(fd, &found) == 0) return (long)found.st_size;
  return (long)lseek(fd, 0, SEEK_CUR);
}

static void note_cut(int fd, long size) {
  struct stat found;
  if (journal >= 0 && fstat(fd, &found) == 0 && S_ISREG(found.st_mode)) note('t', found.st_ino, size, "", "", "", 0);
}

static void note_synced(int fd) {
  struct stat found;
  char base[PATH_MAX], link[64];
  if (journal < 0 || fstat(fd, &found)) return;
  snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
  ssize_t size = readlink(link, base, sizeof base - 1);
  base[size < 0 ? 0 : size] = 0;
  note(S_ISDIR(found.st_mode) ? 'd' : 's', found.st_ino, 0, base, "", "", 0);
}

static void note_named(char what, int at, const char *path, int to_at, const char *to) {
  char first[PATH_MAX], second[PATH_MAX];
  if (journal < 0) return;
  note(what, 0, 0, whole(at, path, first), to ? whole(to_at, to, second) : "", "", 0);
}

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
  long place = 0;
  int counts = regular(fd);
  if (counts) {
    int how = step(1);
    if (how < 0) return -1;
    if (how) { REAL(write)(fd, data, size / 2); kill(getpid(), SIGKILL); }
    place = next_place(fd);
  }
  ssize_t done = REAL(write)(fd, data, size);
  if (counts) note_written(fd, place, data, done);
  return done;
}
ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at) {
  if (regular(fd)) {
    int how = step(1);
    if (how < 0) return -1;
    if (how) { REAL(pwrite64)(fd, data, size / 2, at); kill(getpid(), SIGKILL); }
  }
  ssize_t done = REAL(pwrite64)(fd, data, size, at);
  note_written(fd, (long)at, data, done);
  return done;
}
ssize_t pwrite(int fd, const void *data, size_t size, off_t at) { return pwrite64(fd, data, size, at); }
ssize_t writev(int fd, const struct iovec *parts, int count) {
  if (!regular(fd)) return REAL(writev)(fd, parts, count);
  FAIL(1);
  long place = next_place(fd);
  ssize_t done = REAL(writev)(fd, parts, count), left = done;
  for (int part = 0; part < count && left > 0; part++) {
    ssize_t size = left < (ssize_t)parts[part].iov_len ? left : (ssize_t)parts[part].iov_len;
    note_written(fd, place, parts[part].iov_base, size);
    place += size;
    left -= size;
  }
  return done;
}
/* Copying within the kernel is not offered, so that callers write. */
ssize_t sendfile64(int to, int from, off64_t *at, size_t size) {
  if (journal < 0) return REAL(sendfile64)(to, from, at, size);
  errno = ENOTSOCK;
  return -1;
}
ssize_t sendfile(int to, int from, off_t *at, size_t size) { return sendfile64(to, from, at, size); }
/* A sync is noted once it is done: power may fail before. */
static int synced(int fd, int done) { if (!done) note_synced(fd); return done; }
int fsync(int fd) { FAIL(1); return synced(fd, REAL(fsync)(fd)); }
int fdatasync(int fd) { FAIL(1); return synced(fd, REAL(fdatasync)(fd)); }
int ftruncate64(int fd, off64_t size) {
  FAIL(1);
  int done = REAL(ftruncate64)(fd, size);
  if (!done) note_cut(fd, (long)size);
  return done;
}
int ftruncate(int fd, off_t size) { return ftruncate64(fd, size); }
static int named(int done, char what, int at, const char *path, int to_at, const char *to) {
  if (!done) note_named(what, at, path, to_at, to);
  return done;
}
int renameat(int a, const char *old, int b, const char *new) {
  FAIL(0);
  return named(REAL(renameat)(a, old, b, new), 'r', a, old, b, new);
}
int rename(const char *old, const char *new) { return renameat(AT_FDCWD, old, AT_FDCWD, new); }
int unlinkat(int at, const char *path, int flags) {
  FAIL(0);
  return named(REAL(unlinkat)(at, path, flags), 'u', at, path, 0, 0);
}
int unlink(const char *path) { return unlinkat(AT_FDCWD, path, 0); }
int rmdir(const char *path) { return unlinkat(AT_FDCWD, path, AT_REMOVEDIR); }
int mkdir(const char *path, mode_t mode) {
  FAIL(1);
  return named(REAL(mkdir)(path, mode), 'm', AT_FDCWD, path, 0, 0);
}
int open64(const char *path, int flags, ...) {
  va_list more;
  va_start(more, flags);
  mode_t mode = flags & O_CREAT ? va_arg(more, mode_t) : 0;
  va_end(more);
  int made = flags & O_CREAT && access(path, F_OK);
  if (made) FAIL(1);
  int fd = REAL(open64)(path, flags, mode);
  struct stat found;
  char into[PATH_MAX];
  if (journal >= 0 && fd >= 0 && made && fstat(fd, &found) == 0)
    note('c', found.st_ino, 0, whole(AT_FDCWD, path, into), "", "", 0);
  else if (fd >= 0 && flags & O_TRUNC)
    note_cut(fd, 0);
  return fd;
}
int open(const char *path, int flags, ...) {
  va_list more;
  va_start(more, flags);
  mode_t mode = flags & O_CREAT ? va_arg(more, mode_t) : 0;
  va_end(more);
  return open64(path, flags, mode);
}
