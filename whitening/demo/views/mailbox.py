"""The demo mailbox: what would have been sent, with links that work."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from clinic.accounts.doors import public
from whitening.demo.models import DemoMail, DemoText

INVENTED = "shows messages to invented people, in the demo only"
MOST = 100


@public(reason=INVENTED)
def mailbox(request: HttpRequest) -> HttpResponse:
    mails, texts = DemoMail.objects.all(), DemoText.objects.all()
    to = request.GET.get("to", "").strip()
    if to:
        mails, texts = mails.filter(to__icontains=to), texts.filter(to__icontains=to)
    context = {"mails": mails[:MOST], "texts": texts[:MOST], "count": mails.count() + texts.count(), "to": to}
    return render(request, "demo/mailbox.html", context)


@public(reason=INVENTED)
def mail(request: HttpRequest, pk: int) -> HttpResponse:
    found = DemoMail.objects.filter(pk=pk).first()
    if found is None:
        raise Http404
    return render(request, "demo/mail.html", {"mail": found})
