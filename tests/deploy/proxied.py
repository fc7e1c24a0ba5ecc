"""A real nginx with the site file of deploy/ before a service, on free ports of this machine."""

import datetime as dt
import ipaddress
import socket
import ssl
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

import httpx
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from tests.server.running import wait_until

ROOT = Path(__file__).parent.parent.parent
NAME = "shop.example"
HERE = "127.0.0.1"
MAIN = """
daemon off; worker_processes 1; pid {folder}/nginx.pid; error_log {folder}/error.log;
{user}
events {{ worker_connections 512; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/f; uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;
    include {folder}/site.conf;
}}
"""


class Proxied(NamedTuple):
    """Where nginx listens, with and without TLS, and how its certificate is checked."""

    port: int
    plain_port: int
    trust: ssl.SSLContext

    def client(self, **more: object) -> httpx.Client:
        """Make a client that asks by the shop's name."""
        transport = httpx.HTTPTransport(verify=self.trust)
        return httpx.Client(transport=transport, base_url=f"https://{HERE}:{self.port}", **more)  # type: ignore[arg-type]

    def ask(self, method: str, path: str, host: str = NAME, **sent: object) -> httpx.Response:
        """Ask on a new connection."""
        headers = {"Host": host, **sent.pop("headers", {})}  # type: ignore[dict-item]
        with self.client() as client:
            request = client.build_request(method, path, headers=headers, **sent)  # type: ignore[arg-type]
            request.extensions["sni_hostname"] = host
            return client.send(request)


def free_port() -> int:
    with socket.create_server((HERE, 0)) as listening:
        port: int = listening.getsockname()[1]
    return port


def make_certificate(folder: Path) -> ssl.SSLContext:
    """Write a certificate of a day for the shop's name, and give what trusts it alone."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, NAME)])
    now = dt.datetime.now(dt.UTC)
    names = [x509.DNSName(NAME), x509.IPAddress(ipaddress.ip_address(HERE))]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(hours=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = certificate.public_bytes(serialization.Encoding.PEM)
    (folder / "fullchain.pem").write_bytes(pem)
    (folder / "key.pem").write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    trust = ssl.create_default_context(cadata=pem.decode())
    trust.check_hostname = False  # other names are asked too; that it is ours is checked
    return trust


@contextmanager
def nginx(folder: Path, upstream: int) -> Iterator[Proxied]:
    """Run nginx before a service, its file that of deploy/ but for ports and places."""
    folder.mkdir()
    trust = make_certificate(folder)
    port, plain = free_port(), free_port()
    site = (ROOT / "deploy" / "nginx.conf").read_text()
    for ours, tests in (
        ("127.0.0.1:8750", f"127.0.0.1:{upstream}"),
        ("listen 443 ", f"listen {HERE}:{port} "),
        ("listen 80 ", f"listen {HERE}:{plain} "),
        ("/etc/ssl/gramhour", str(folder)),
    ):
        assert ours in site
        site = site.replace(ours, tests)
    (folder / "site.conf").write_text(site)
    (folder / "nginx.conf").write_text(MAIN.format(folder=folder, user="user root;"))
    command = ["nginx", "-p", str(folder), "-c", str(folder / "nginx.conf")]
    with subprocess.Popen(command, stderr=subprocess.PIPE) as server:
        try:

            def listens() -> bool:
                assert server.poll() is None, server.stderr and server.stderr.read()
                with suppress(OSError), closing(socket.create_connection((HERE, port), 1)):
                    return True
                return False

            wait_until(listens)
            yield Proxied(port, plain, trust)
        finally:
            server.terminate()
            server.wait(10)
