/* Counts the calls of a process that change a file, and stops it dead at one of them.

   Loaded with LD_PRELOAD. Nothing is counted until fault_arm; output on 0, 1 and 2 is not counted.
   With `torn` a write that is due is half carried out before the process dies. */

#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

static int armed, torn, trace = -1;
static long seen, stop_at;

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

void fault_arm(long at, int tear, const char *trace_file)
{
    trace = trace_file[0] ? open(trace_file, O_WRONLY | O_CREAT | O_TRUNC, 0600) : -1;
    seen = 0;
    stop_at = at;
    torn = tear;
    armed = 1;
}

long fault_disarm(void)
{
    armed = 0;
    return seen;
}

static int counts(int fd)
{
    struct stat found;
    return armed && fd > 2 && fstat(fd, &found) == 0 && S_ISREG(found.st_mode);
}

static int tears(void) { return torn && seen + 1 == stop_at; }

static void point(const char *call, int fd, const char *path)
{
    char link[64], name[4096] = "?";
    if (!armed)
        return;
    seen++;
    if (trace >= 0) {
        if (path == NULL) {
            snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
            ssize_t size = readlink(link, name, sizeof name - 1);
            name[size > 0 ? size : 0] = 0;
        }
        dprintf(trace, "%s\t%s\n", call, path ? path : name);
    }
    if (seen == stop_at)
        kill(getpid(), SIGKILL);
}

#define CHANGES(flags) ((flags) & (O_WRONLY | O_RDWR | O_CREAT | O_TRUNC))

#define OPEN(name)                                                                                 \
    int name(const char *path, int flags, ...)                                                     \
    {                                                                                              \
        va_list rest;                                                                              \
        va_start(rest, flags);                                                                     \
        mode_t mode = va_arg(rest, mode_t);                                                        \
        va_end(rest);                                                                              \
        if (CHANGES(flags))                                                                        \
            point("open", -1, path);                                                               \
        return REAL(name)(path, flags, mode);                                                      \
    }
OPEN(open)
OPEN(open64)

#define OPENAT(name)                                                                               \
    int name(int folder, const char *path, int flags, ...)                                         \
    {                                                                                              \
        va_list rest;                                                                              \
        va_start(rest, flags);                                                                     \
        mode_t mode = va_arg(rest, mode_t);                                                        \
        va_end(rest);                                                                              \
        if (CHANGES(flags))                                                                        \
            point("open", -1, path);                                                               \
        return REAL(name)(folder, path, flags, mode);                                              \
    }
OPENAT(openat)
OPENAT(openat64)

ssize_t write(int fd, const void *data, size_t size)
{
    if (counts(fd)) {
        if (tears())
            REAL(write)(fd, data, size / 2);
        point("write", fd, NULL);
    }
    return REAL(write)(fd, data, size);
}

ssize_t writev(int fd, const struct iovec *parts, int count)
{
    if (counts(fd))
        point("write", fd, NULL);
    return REAL(writev)(fd, parts, count);
}

#define PWRITE(name, offset_type)                                                                  \
    ssize_t name(int fd, const void *data, size_t size, offset_type at)                            \
    {                                                                                              \
        if (counts(fd)) {                                                                          \
            if (tears())                                                                           \
                REAL(name)(fd, data, size / 2, at);                                                \
            point("pwrite", fd, NULL);                                                             \
        }                                                                                          \
        return REAL(name)(fd, data, size, at);                                                     \
    }
PWRITE(pwrite, off_t)
PWRITE(pwrite64, off64_t)

#define ON_FD(name)                                                                                \
    int name(int fd)                                                                               \
    {                                                                                              \
        if (counts(fd))                                                                            \
            point(#name, fd, NULL);                                                                \
        return REAL(name)(fd);                                                                     \
    }
ON_FD(fsync)
ON_FD(fdatasync)

int ftruncate(int fd, off_t size)
{
    if (counts(fd))
        point("ftruncate", fd, NULL);
    return REAL(ftruncate)(fd, size);
}

int ftruncate64(int fd, off64_t size)
{
    if (counts(fd))
        point("ftruncate", fd, NULL);
    return REAL(ftruncate64)(fd, size);
}

int mkdir(const char *path, mode_t mode)
{
    point("mkdir", -1, path);
    return REAL(mkdir)(path, mode);
}

int rename(const char *from, const char *to)
{
    point("rename", -1, to);
    return REAL(rename)(from, to);
}

int renameat(int from_folder, const char *from, int to_folder, const char *to)
{
    point("rename", -1, to);
    return REAL(renameat)(from_folder, from, to_folder, to);
}

int link(const char *from, const char *to)
{
    point("link", -1, to);
    return REAL(link)(from, to);
}

int linkat(int from_folder, const char *from, int to_folder, const char *to, int flags)
{
    point("link", -1, to);
    return REAL(linkat)(from_folder, from, to_folder, to, flags);
}

int symlink(const char *from, const char *to)
{
    point("symlink", -1, to);
    return REAL(symlink)(from, to);
}

int unlink(const char *path)
{
    point("unlink", -1, path);
    return REAL(unlink)(path);
}

int unlinkat(int folder, const char *path, int flags)
{
    point("unlink", -1, path);
    return REAL(unlinkat)(folder, path, flags);
}

int rmdir(const char *path)
{
    point("rmdir", -1, path);
    return REAL(rmdir)(path);
}
