#!/usr/bin/env bash
# systemd as process 1 of namespaces of its own, in a root of its own.
#
#   systemd_root.sh FOLDER SITE_PACKAGES CHECKOUT
#
# Called by private_systemd.py through unshare. Its clean-up at boot empties folders, so nothing of
# the machine may be writable in it: /usr, the packages and the checkout are mounted read-only, and
# everything else is a tmpfs that ends with it.
set -euo pipefail
root=$1 packages=$2 checkout=$3

mount --make-rprivate /
mount -t tmpfs -o size=256m,mode=755 private "$root"
cd "$root"
mkdir -p usr proc sys dev run tmp var/tmp var/lib var/log etc/systemd/system etc/ssl root old media/stick \
    opt/station/bin opt/station/lib/python3.11/site-packages opt/station/source ".$checkout"
chmod 1777 tmp var/tmp
for name in bin sbin lib lib64; do ln -s "usr/$name" "$name"; done
read_only() {
    mount --bind "$1" "$2"
    mount -o remount,bind,ro "$2"
}
read_only /usr usr
read_only "$packages" opt/station/lib/python3.11/site-packages
read_only "$checkout" ".$checkout"
# Wherever the checkout lies, the unit must see it: it has a /tmp and no /home of its own.
read_only "$checkout" opt/station/source
for name in group nsswitch.conf ld.so.cache ssl/certs ca-certificates.conf; do
    if [ -e "/etc/$name" ]; then cp -rL "/etc/$name" "etc/$name"; fi
done
grep -E '^(root|nobody):' /etc/passwd > etc/passwd
ln -s ../usr/lib/os-release etc/os-release
tr -d - < /proc/sys/kernel/random/uuid > etc/machine-id
echo private > etc/hostname
for unit in systemd-udevd.service systemd-udev-trigger.service systemd-networkd.service \
    systemd-logind.service systemd-sysctl.service systemd-modules-load.service \
    systemd-random-seed.service systemd-remount-fs.service getty.target dev-hugepages.mount \
    sys-kernel-tracing.mount sys-kernel-debug.mount sys-fs-fuse-connections.mount \
    sys-kernel-config.mount dev-mqueue.mount; do
    ln -s /dev/null "etc/systemd/system/$unit"
done
printf 'home = /usr/bin\nversion = 3.11\n' > opt/station/pyvenv.cfg
ln -s /usr/bin/python3.11 opt/station/bin/python
printf '#!/opt/station/bin/python\nimport sys\nsys.path.insert(0, "/opt/station/source")\nfrom groundstation.cli import main\nmain()\n' > opt/station/bin/groundstation
chmod 755 opt/station/bin/groundstation

mount -t proc proc proc
# Settings of the kernel are everybody's.
for name in sys sysrq-trigger irq bus fs; do
    if [ -e "proc/$name" ]; then
        mount --bind "proc/$name" "proc/$name"
        mount -o remount,bind,ro "proc/$name"
    fi
done
mount -t sysfs -o ro sysfs sys
mount -t cgroup2 cgroup2 sys/fs/cgroup
mount -t tmpfs -o mode=755 dev dev
mkdir dev/pts dev/shm
mount -t devpts -o newinstance,ptmxmode=666 devpts dev/pts
ln -s pts/ptmx dev/ptmx
for one in null:1:3 zero:1:5 full:1:7 random:1:8 urandom:1:9 tty:5:0; do
    IFS=: read -r name major minor <<< "$one"
    mknod -m 666 "dev/$name" c "$major" "$minor"
done
ln -s /proc/self/fd dev/fd
mount -t tmpfs -o mode=755 run run
mount -t tmpfs shm dev/shm

pivot_root . old
cd /
umount -l /old
# As process 1 of a machine does it; in a container it leaves that to who made it.
mount --make-rshared /
exec env -i container=private PATH=/usr/sbin:/usr/bin \
    /usr/lib/systemd/systemd --system --unit=multi-user.target --log-target=journal --show-status=no < /dev/null
