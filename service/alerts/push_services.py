"""Which services Apprise may send to: those that reach a person's phone, by SMS, push or chat.

Looked through in the source of Apprise 2.3.0; each of these asks by HTTP, with `requests`. What is
not named here is refused, so that a newer Apprise opens nothing by itself. A test compares both
lists with the Apprise that is installed.
"""

from collections.abc import Mapping

_SENT_TO = """
46elks: 46elks elks
800.com: eight00com
Africa's Talking: atalk
Amazon SNS: sns
Amazon WhatsApp: awswhatsapp
Azure Communication Services: acs
Bale: bale
Bark: bark barks
Better Stack: betterstack
BulkSMS: bulksms
BulkVS: bulkvs
Chanify: chanify
Clickatell: clickatell
ClickSend: clicksend
CM.com: cm
D7 Networks: d7sms
DingTalk: dingtalk
Discord: discord
Evolution API: evolution evolutions
Exotel: exotel
Feishu: feishu
FireHydrant: firehydrant
Flock: flock
Fluxer: fluxer fluxers
Free Mobile: freemobile
GoAlert: goalert goalerts
Google Chat: gchat
Gotify: gotify gotifys
GroupMe: groupme
Guilded: guilded
Gupshup: gupshup
Home Assistant: hassio hassios
httpSMS: httpsms
IFTTT: ifttt
ilert: ilert
incident.io: incidentio
Infobip: infobip
Jira: jira
Join: join
KakaoTalk: kakao kakaotalk
Kaleyra: kaleyra klr
Kavenegar: kavenegar
Kook: kook
Kudosity: burstsms kudosity
Lark: lark
Lauther: lauther
LFG Alarm: lfg
Line: line
Matrix: matrix matrixs
Mattermost: mmost mmosts
MessageBird: msgbird
Mobile Message: mobilemessage mobilemsg
MSG91: msg91
Nextcloud: ncloud nclouds
Nextcloud Talk: nctalk nctalks
Notica: notica noticas
Notifiarr: notifiarr
Notify!: notifyapp
Notifyre: notifyre
ntfy: ntfy ntfys
Octopush: octopush
OneBot: onebot onebots
OneSignal: onesignal
Opsgenie: opsgenie
OpsiMate: opsimate opsimates
PagerDuty: pagerduty
PagerTree: pagertree
Pinglet: pinglet pinglets
Pingram: pingram
Plivo: plivo
Power Automate (Teams): workflow workflows
Prowl: prowl
Pushbullet: pbul
PushDeer: pushdeer pushdeers
Pushed: pushed
Pushjet: pjet pjets
PushMe: pushme
Pushover: pover
Pushplus: pushplus wecom
Pushsafer: psafer psafers
PushWard: pushward
Pushy: pushy
QQ Push: qq
Revolt: revolt
RingCentral: ringc
Rocket.Chat: rocket rockets
Ryver: ryver
ServerChan: schan
SerwerSMS: serwersms
seven: seven
SFR: sfr
Signal: signal signals
Signalgrid: signalgrid
SIGNL4: signl4
Simplepush: simplepush spush
Sinch: sinch
Slack: slack
SMS Eagle: smseagle smseagles
SMS Manager: smsmanager smsmgr
SMSC: smsc
SMSTunnel: smstunnel
Spike: spike
Splunk On-Call: splunk victorops
SpugPush: spugpush
Squadcast: squadcast
Stackfield: stackfield
Synology Chat: synology synologys
Techulus Push: push
Telegram: tgram
Telesign: telesign
Telnyx: telnyx
Threema: threema
Trigv: trigv trigvs
Twilio: twilio
Twist: twist
Viber: viber
VoIP.ms: voipms
Vonage: nexmo vonage
Webex: webex wxteams
WeChat: wechat
WeCom: wecombot
Whapi: whapi
WhatsApp: whatsapp
WPUSH: wpush
WxPusher: wxpusher
xMatters: xmatters
YouLMK: youlmk
Zalo: zalo
Zoho Cliq: cliq zcliq zohocliq
Zoom: zoom
Zulip: zulip
"""

_LEFT_OUT = """
It acts on the machine that Rimebook runs on, where nobody may sit.
: blink1 dbus gio glib gnome kde macosx qt syslog windows
It is a way to any program: choose a webhook for that, which is signed.
: apprise apprises form forms json jsons xml xmls
It is a way to send e-mail: choose an e-mail channel for that.
: azure brevo groundmail mailersend mailgun mailto mailtos o365 postmark resend sendgrid sendpulse
: ses smtp2go sparkpost
Others read along there.
: aprs bluesky bsky dapnet github humhub humhubs instagram mastodon mastodons misskey misskeys nostr
: notifico notificos reddit session sessions sogs strmlabs toot toots tweet twitter x
It does not speak HTTP, so Rimebook cannot see where it connects to.
: amqp amqps deltachat deltachats growl irc ircs mqtt mqtts rsyslog smpp smpps xmpp xmpps
It takes keys from files of the machine that Rimebook runs on.
: fcm vapid
It is for screens and apps, not for a person's phone.
: dot emby embys enigma2 enigma2s flowtriq flowtriqs gorush gorushs jellyfin jellyfins kodi kodis
: kumulos lametric lametrics parsep parseps xbmc xbmcs
It holds settings of Apprise, not a receiver.
: config file http https memory
"""


def _services() -> dict[str, str]:
    named = (line.rsplit(":", 1) for line in _SENT_TO.strip().splitlines())
    return {scheme: name for name, schemes in named for scheme in schemes.split()}


def _left_out() -> dict[str, str]:
    reasons, reason = {}, ""
    for line in _LEFT_OUT.strip().splitlines():
        if line.startswith(":"):
            reasons.update(dict.fromkeys(line[1:].split(), reason))
        else:
            reason = line
    return reasons


#: The scheme of an address, and what the service is called.
SERVICES: Mapping[str, str] = _services()

#: Schemes that Apprise knows and that are refused, and why.
LEFT_OUT: Mapping[str, str] = _left_out()
