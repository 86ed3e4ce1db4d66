"""A neapd process under test: started, asked, stopped, killed; shared by the live bench, the leak
edges and the kills."""
import atexit
import json
import os
import socket
import struct
import subprocess
import sys
import time

ROOT = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))


def write(path, text):
    with open(path, "w", encoding="utf-8") as file:
        file.write(text)


def read(path):
    with open(path, encoding="utf-8") as file:
        return file.read().strip()


def wait_for(what, seconds, why):
    """Looks each millisecond until `what` is true; gives up loudly."""
    end = time.monotonic() + seconds
    while True:
        found = what()
        if found:
            return found
        if time.monotonic() > end:
            sys.exit(f"waited {seconds} s in vain: {why}")
        time.sleep(0.001)


class Client:
    """Asks whoever answers at a control socket."""

    def __init__(self, path):
        self.socket = path
        self.requests = 0

    def answer(self, verb, **args):
        """The answer as of schema/control.md, or None while nobody answers."""
        self.requests += 1
        request = json.dumps({"id": self.requests, "verb": verb, "args": args}).encode()
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as peer:
            peer.settimeout(10)
            try:
                peer.connect(self.socket)
                peer.sendall(struct.pack(">I", len(request)) + request)
                head = peer.recv(4, socket.MSG_WAITALL)
                if len(head) < 4:
                    return None
                body = peer.recv(struct.unpack(">I", head)[0], socket.MSG_WAITALL)
            except OSError:
                return None
        return json.loads(body)

    def ask(self, verb, **args):
        """True when the request was granted."""
        answer = self.answer(verb, **args)
        return bool(answer and answer["ok"])

    def status(self):
        answer = self.answer("status")
        return answer["result"] if answer and answer["ok"] else None


class Daemon(Client):
    def __init__(self, build, directory, settings, state_dir=None, environment=None):
        super().__init__(os.path.join(directory, "neap.sock"))
        state_dir = state_dir or directory
        self.journal = os.path.join(state_dir, "journal.db")
        self.log = open(os.path.join(directory, "log"), "a", encoding="utf-8")
        if os.path.exists(self.socket):
            os.unlink(self.socket)
        self.started = time.monotonic()
        self.process = subprocess.Popen(
            [os.path.join(build, "neapd"), "--settings", settings, "--state-dir", state_dir,
             "--journal", self.journal, "--socket", self.socket],
            stdin=subprocess.DEVNULL, stdout=self.log, stderr=self.log, env={**os.environ, **(environment or {})})
        atexit.register(self.process.kill)  # whatever becomes of the test

    def wait_for_socket(self, seconds=10):
        wait_for(lambda: os.path.exists(self.socket), seconds, "no control socket")
        return self

    def send(self, number):
        self.process.send_signal(number)

    def kill(self):
        self.process.kill()
        self.process.wait(30)
        self.log.close()

    def stop(self):
        self.process.terminate()
        code = self.process.wait(30)
        self.log.close()
        return code
