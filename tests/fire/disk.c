/* A disk that loses its cache with the power: what lies in files counts only as far as it was synced.
 *
 * Preloaded into the service, this keeps a copy of each file of the database as it was when it was last synced, in the
 * directory WEARCOURSE_TEST_DISK. What a restart after a power cut could count on are those copies, and nothing that was
 * written later. With WEARCOURSE_TEST_DISK_LIES set, the disk says that it synced and keeps nothing.
 *
 * It stands for the worst cut: all that was not synced is gone. It says nothing of writes that reach the disk in part or
 * in another order, of names of files that were made and not synced, nor of drives that lie about their own cache.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int keep(int file)
{
    char place[64], path[3072], copy[4096], draft[4200], bytes[65536];
    const char *directory = getenv("WEARCOURSE_TEST_DISK");
    ssize_t length, read_now;
    off_t at = 0;
    int to;

    snprintf(place, sizeof place, "/proc/self/fd/%d", file);
    length = readlink(place, path, sizeof path - 1);
    if (!directory || length < 0)
        return 0;
    path[length] = 0;
    if (!strstr(path, ".sqlite"))
        return 0;
    snprintf(copy, sizeof copy, "%s/%s", directory, strrchr(path, '/') + 1);
    snprintf(draft, sizeof draft, "%s.draft", copy);
    to = open(draft, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (to < 0)
        return -1;
    while ((read_now = pread(file, bytes, sizeof bytes, at)) > 0) {
        if (write(to, bytes, (size_t)read_now) != read_now)
            break;
        at += read_now;
    }
    close(to);
    return read_now == 0 ? rename(draft, copy) : -1;
}

static int synced(const char *name, int file)
{
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, name);
    int done = real(file);

    if (done != 0 || getenv("WEARCOURSE_TEST_DISK_LIES"))
        return done;
    return keep(file);
}

int fsync(int file) { return synced("fsync", file); }

int fdatasync(int file) { return synced("fdatasync", file); }
