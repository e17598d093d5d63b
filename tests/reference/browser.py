#!/usr/bin/python3
# not a test: a headless Chromium for tests, over its DevTools protocol, with nothing but Python's own library.
"""with Browser() as browser: page = browser.open(path, width, height); page.run("1 + 1")"""
import base64
import json
import os
import re
import shutil
import socket
import struct
import subprocess
import tempfile
import time


class Socket:
    """The little of RFC 6455 that a client on this machine needs: masked text out, whole messages in."""

    def __init__(self, url):
        host, port, path = re.match(r"ws://([^:/]+):(\d+)(/.*)", url).groups()
        self.socket = socket.create_connection((host, int(port)), timeout=60)
        key = base64.b64encode(os.urandom(16)).decode()
        self.socket.sendall(f"GET {path} HTTP/1.1\r\nHost: {host}:{port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
                            f"Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode())
        self.buffer = b""
        while b"\r\n\r\n" not in self.buffer:
            self.buffer += self.socket.recv(65536)
        self.buffer = self.buffer.split(b"\r\n\r\n", 1)[1]

    def take(self, n):
        while len(self.buffer) < n:
            more = self.socket.recv(1 << 20)
            if not more:
                raise EOFError("the browser hung up")
            self.buffer += more
        out, self.buffer = self.buffer[:n], self.buffer[n:]
        return out

    def send(self, text):
        data = text.encode()
        n = len(data)
        head = bytes([0x81]) + (bytes([0x80 | n]) if n < 126 else bytes([0xFE]) + struct.pack(">H", n) if n < 65536
                                else bytes([0xFF]) + struct.pack(">Q", n))
        self.socket.sendall(head + bytes(4) + data)  # a mask of zeros is a mask

    def receive(self):
        message = b""
        while True:
            first, second = self.take(2)
            n = second & 127
            n = struct.unpack(">H", self.take(2))[0] if n == 126 else struct.unpack(">Q", self.take(8))[0] if n == 127 else n
            data = self.take(n)
            if first & 15 in (0, 1):
                message += data
                if first & 128:
                    return message.decode()


class Page:
    def __init__(self, browser, session):
        self.browser, self.session, self.events = browser, session, []

    def call(self, method, **params):
        return self.browser.call(method, params, self)

    def run(self, expression):
        made = self.call("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in made:
            raise RuntimeError(json.dumps(made["exceptionDetails"])[:600])
        return made["result"].get("value")

    def goto(self, path):
        self.call("Page.navigate", url="file://" + os.path.abspath(path))
        self.browser.wait_for(self, "Page.loadEventFired")
        time.sleep(0.1)

    def picture(self, clip=None, whole=False):
        params = {"format": "png", "captureBeyondViewport": whole}
        if clip:
            params["clip"] = dict(clip, scale=1)
        return base64.b64decode(self.call("Page.captureScreenshot", **params)["data"])

    def pdf(self):
        return base64.b64decode(self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=False)["data"])

    def key(self, key, text=None):
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=key, **({"text": text} if text and kind == "keyDown" else {}))

    def seen(self, method):
        return [event["params"] for event in self.events if event["method"] == method]


class Browser:
    def __enter__(self):
        self.folder, self.number, self.pages = tempfile.mkdtemp(), 0, {}
        self.process = subprocess.Popen(
            ["chromium", "--headless=new", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0", "--hide-scrollbars",
             "--no-first-run", "--disable-background-networking", "--user-data-dir=" + self.folder, "about:blank"],
            stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
        for line in self.process.stderr:
            found = re.search(r"DevTools listening on (ws://\S+)", line)
            if found:
                break
        else:
            raise RuntimeError("chromium does not start")
        self.socket = Socket(found.group(1))
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait(20)
        self.process.stderr.close()
        shutil.rmtree(self.folder, ignore_errors=True)

    def take(self):
        message = json.loads(self.socket.receive())
        page = self.pages.get(message.get("sessionId"))
        if page is not None and "method" in message:
            page.events.append(message)
        return message

    def call(self, method, params, page=None):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if page is not None:
            message["sessionId"] = page.session
        self.socket.send(json.dumps(message))
        while True:
            answer = self.take()
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]

    def wait_for(self, page, method):
        while not page.seen(method):
            self.take()

    def open(self, path, width, height, is_phone=False):
        target = self.call("Target.createTarget", {"url": "about:blank"})["targetId"]
        session = self.call("Target.attachToTarget", {"targetId": target, "flatten": True})["sessionId"]
        page = self.pages[session] = Page(self, session)
        for domain in ("Page", "Runtime", "Network", "Log"):
            page.call(domain + ".enable")
        page.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=is_phone)
        if is_phone:
            page.call("Emulation.setTouchEmulationEnabled", enabled=True)
        page.goto(path)
        return page
